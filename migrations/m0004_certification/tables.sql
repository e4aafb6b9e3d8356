-- What the rules propose after a sitting. Worked out anew when what the person brings has changed: the last one counts.
CREATE TABLE proposal (
  id              {id},
  attempt_id      {whole} NOT NULL CONSTRAINT fk_proposal_attempt REFERENCES attempt (id),
  person_id       {whole} NOT NULL CONSTRAINT fk_proposal_person REFERENCES person (id),
  scheme_key      TEXT NOT NULL,
  scheme_version  INTEGER NOT NULL,
  proposes        TEXT NOT NULL CONSTRAINT ck_proposal_proposes CHECK (proposes IN ('grant', 'refuse')),
  safety_miss     {flag} NOT NULL,
  grounds         TEXT NOT NULL,
  competences     TEXT NOT NULL,
  machines        TEXT NOT NULL,
  examined_at     {whole} NOT NULL,
  valid_until     {whole} NOT NULL,
  made_at         {whole} NOT NULL,
  record_entry_id {whole} NOT NULL CONSTRAINT fk_proposal_record_entry REFERENCES record_entry (id),
  -- Whatever else happens, a missed safety question is never proposed to be granted.
  CONSTRAINT ck_proposal_safety CHECK (proposes = 'refuse' OR NOT safety_miss)
){strict};
-- What decisions and certificates point at, so that neither can claim another proposal than there was.
CREATE UNIQUE INDEX uq_proposal_id_attempt_id_proposes ON proposal (id, attempt_id, proposes);
CREATE INDEX ix_proposal_attempt ON proposal (attempt_id, id);
CREATE INDEX ix_proposal_person ON proposal (person_id, scheme_key, id);

CREATE TABLE decision (
  id              {id},
  attempt_id      {whole} NOT NULL,
  proposal_id     {whole} NOT NULL,
  proposes        TEXT NOT NULL,
  outcome         TEXT NOT NULL CONSTRAINT ck_decision_outcome CHECK (outcome IN ('granted', 'refused')),
  reason          TEXT NOT NULL,
  -- Nobody when it was granted by rule, before there were decisions.
  decided_by      {whole} CONSTRAINT fk_decision_decided_by REFERENCES person (id),
  decided_at      {whole} NOT NULL,
  key             TEXT NOT NULL,
  record_entry_id {whole} NOT NULL CONSTRAINT fk_decision_record_entry REFERENCES record_entry (id),
  CONSTRAINT fk_decision_proposal FOREIGN KEY (proposal_id, attempt_id, proposes)
    REFERENCES proposal (id, attempt_id, proposes),
  CONSTRAINT ck_decision_granted CHECK (outcome = 'refused' OR proposes = 'grant'),
  CONSTRAINT ck_decision_reason CHECK (outcome = 'granted' OR proposes = 'refuse' OR length(reason) > 0)
){strict};
CREATE UNIQUE INDEX uq_decision_attempt_id ON decision (attempt_id);

CREATE TABLE appeal (
  id              {id},
  attempt_id      {whole} NOT NULL CONSTRAINT fk_appeal_decision REFERENCES decision (attempt_id),
  text            TEXT NOT NULL,
  lodged_at       {whole} NOT NULL,
  record_entry_id {whole} NOT NULL CONSTRAINT fk_appeal_record_entry REFERENCES record_entry (id)
){strict};
CREATE UNIQUE INDEX uq_appeal_attempt_id ON appeal (attempt_id);

CREATE TABLE appeal_decision (
  id              {id},
  attempt_id      {whole} NOT NULL CONSTRAINT fk_appeal_decision_appeal REFERENCES appeal (attempt_id),
  outcome         TEXT NOT NULL CONSTRAINT ck_appeal_decision_outcome CHECK (outcome IN ('upheld', 'dismissed')),
  reason          TEXT NOT NULL CONSTRAINT ck_appeal_decision_reason CHECK (length(reason) > 0),
  decided_by      {whole} NOT NULL CONSTRAINT fk_appeal_decision_decided_by REFERENCES person (id),
  decided_at      {whole} NOT NULL,
  record_entry_id {whole} NOT NULL CONSTRAINT fk_appeal_decision_record_entry REFERENCES record_entry (id)
){strict};
CREATE UNIQUE INDEX uq_appeal_decision_attempt_id ON appeal_decision (attempt_id);

-- Its competences are the qualifications of its attempt.
CREATE TABLE certificate (
  id              {id},
  attempt_id      {whole} NOT NULL,
  proposal_id     {whole} NOT NULL,
  proposes        TEXT NOT NULL CONSTRAINT ck_certificate_proposes CHECK (proposes = 'grant'),
  person_id       {whole} NOT NULL CONSTRAINT fk_certificate_person REFERENCES person (id),
  scheme_key      TEXT NOT NULL,
  scheme_version  INTEGER NOT NULL,
  year            INTEGER NOT NULL,
  running         {whole} NOT NULL CONSTRAINT ck_certificate_running CHECK (running > 0),
  examined_at     {whole} NOT NULL,
  valid_from      {whole} NOT NULL,
  valid_until     {whole} NOT NULL,
  record_entry_id {whole} NOT NULL CONSTRAINT fk_certificate_record_entry REFERENCES record_entry (id),
  CONSTRAINT fk_certificate_proposal FOREIGN KEY (proposal_id, attempt_id, proposes)
    REFERENCES proposal (id, attempt_id, proposes)
){strict};
CREATE UNIQUE INDEX uq_certificate_attempt_id ON certificate (attempt_id);
CREATE UNIQUE INDEX uq_certificate_year_running ON certificate (year, running);
CREATE INDEX ix_certificate_person ON certificate (person_id, scheme_key, id);

CREATE TABLE certificate_machine (
  certificate_id  {whole} NOT NULL CONSTRAINT fk_certificate_machine_certificate REFERENCES certificate (id),
  machine_key     TEXT NOT NULL,
  machine_version INTEGER NOT NULL,
  CONSTRAINT pk_certificate_machine PRIMARY KEY (certificate_id, machine_key)
){strict};

CREATE TABLE certificate_event (
  id              {id},
  certificate_id  {whole} NOT NULL CONSTRAINT fk_certificate_event_certificate REFERENCES certificate (id),
  kind            TEXT NOT NULL
    CONSTRAINT ck_certificate_event_kind CHECK (kind IN ('suspended', 'reinstated', 'withdrawn', 'renewed')),
  reason          TEXT NOT NULL CONSTRAINT ck_certificate_event_reason CHECK (length(reason) > 0),
  done_by         {whole} CONSTRAINT fk_certificate_event_done_by REFERENCES person (id),
  at              {whole} NOT NULL,
  record_entry_id {whole} NOT NULL CONSTRAINT fk_certificate_event_record_entry REFERENCES record_entry (id)
){strict};
CREATE INDEX ix_certificate_event_certificate ON certificate_event (certificate_id, id);

-- What happened with a person that asks for a new examination.
CREATE TABLE refresher_trigger (
  id              {id},
  person_id       {whole} NOT NULL CONSTRAINT fk_refresher_trigger_person REFERENCES person (id),
  kind            TEXT NOT NULL CONSTRAINT ck_refresher_trigger_kind
    CHECK (kind IN ('near_miss', 'unsafe_act', 'poor_evaluation', 'new_equipment', 'changed_machine')),
  machine_key     TEXT,
  machine_version INTEGER,
  text            TEXT NOT NULL CONSTRAINT ck_refresher_trigger_text CHECK (length(text) > 0),
  recorded_by     {whole} NOT NULL CONSTRAINT fk_refresher_trigger_recorded_by REFERENCES person (id),
  recorded_at     {whole} NOT NULL,
  key             TEXT NOT NULL,
  record_entry_id {whole} NOT NULL CONSTRAINT fk_refresher_trigger_record_entry REFERENCES record_entry (id)
){strict};
CREATE UNIQUE INDEX uq_refresher_trigger_person_id_key ON refresher_trigger (person_id, key);
