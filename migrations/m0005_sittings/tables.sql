-- How an examination is sat: what was flagged for later, more time for a person, and sittings that somebody watches.

-- A mark to come back to; no answer, and gone when it is taken off.
CREATE TABLE question_flag (
  attempt_id {whole} NOT NULL,
  position   INTEGER NOT NULL,
  flagged_at {whole} NOT NULL,
  CONSTRAINT pk_question_flag PRIMARY KEY (attempt_id, position),
  CONSTRAINT fk_question_flag_question FOREIGN KEY (attempt_id, position)
    REFERENCES attempt_question (attempt_id, position)
){strict};

-- More time in examinations, the newest row of a person counts. The reason is personal: the record holds only the SHA-256 of
-- salt and reason, and both can be blanked when the law asks.
CREATE TABLE extra_time (
  id              {id},
  person_id       {whole} NOT NULL CONSTRAINT fk_extra_time_person REFERENCES person (id),
  percent         INTEGER NOT NULL CONSTRAINT ck_extra_time_percent CHECK (percent BETWEEN 0 AND 300),
  minutes         INTEGER NOT NULL CONSTRAINT ck_extra_time_minutes CHECK (minutes BETWEEN 0 AND 240),
  reason          TEXT NOT NULL,
  salt            TEXT NOT NULL,
  set_by          {whole} NOT NULL CONSTRAINT fk_extra_time_set_by REFERENCES person (id),
  set_at          {whole} NOT NULL,
  key             TEXT NOT NULL,
  record_entry_id {whole} NOT NULL CONSTRAINT fk_extra_time_record_entry REFERENCES record_entry (id),
  CONSTRAINT ck_extra_time_one CHECK (percent = 0 OR minutes = 0)
){strict};
CREATE UNIQUE INDEX uq_extra_time_person_id_key ON extra_time (person_id, key);

-- An examination watched at a branch. The code stands in clear, because whoever watches reads it out again; it opens something
-- only to people of the branch who have signed in, for some hours.
CREATE TABLE invigilation (
  id         {id},
  scheme_key TEXT NOT NULL,
  branch_id  {whole} NOT NULL CONSTRAINT fk_invigilation_branch REFERENCES branch (id),
  code       TEXT NOT NULL CONSTRAINT ck_invigilation_code CHECK (length(code) = 8),
  opened_by  {whole} NOT NULL CONSTRAINT fk_invigilation_opened_by REFERENCES person (id),
  opened_at  {whole} NOT NULL,
  expires_at {whole} NOT NULL,
  closed_by  {whole} CONSTRAINT fk_invigilation_closed_by REFERENCES person (id),
  closed_at  {whole},
  key        TEXT NOT NULL,
  CONSTRAINT ck_invigilation_closed CHECK ((closed_at IS NULL) = (closed_by IS NULL))
){strict};
CREATE UNIQUE INDEX uq_invigilation_code ON invigilation (code);
CREATE UNIQUE INDEX uq_invigilation_opened_by_key ON invigilation (opened_by, key);
CREATE INDEX ix_invigilation_branch ON invigilation (branch_id, id);

-- What whoever watched wrote down about a sitting; 'ended' ended it.
CREATE TABLE incident (
  id              {id},
  attempt_id      {whole} NOT NULL CONSTRAINT fk_incident_attempt REFERENCES attempt (id),
  kind            TEXT NOT NULL CONSTRAINT ck_incident_kind CHECK (kind IN ('noted', 'ended')),
  text            TEXT NOT NULL CONSTRAINT ck_incident_text CHECK (length(text) > 0),
  noted_by        {whole} NOT NULL CONSTRAINT fk_incident_noted_by REFERENCES person (id),
  noted_at        {whole} NOT NULL,
  key             TEXT NOT NULL,
  record_entry_id {whole} NOT NULL CONSTRAINT fk_incident_record_entry REFERENCES record_entry (id)
){strict};
CREATE UNIQUE INDEX uq_incident_attempt_id_key ON incident (attempt_id, key);

-- Under which terms a sitting was begun, frozen with it, and who ended it when it was not its owner or the clock.
ALTER TABLE attempt ADD COLUMN extra_s {whole} NOT NULL DEFAULT 0
  CONSTRAINT ck_attempt_extra_s CHECK (extra_s >= 0);
ALTER TABLE attempt ADD COLUMN invigilation_id {whole} CONSTRAINT fk_attempt_invigilation REFERENCES invigilation (id);
ALTER TABLE attempt ADD COLUMN ended_by {whole} CONSTRAINT fk_attempt_ended_by REFERENCES person (id);
CREATE INDEX ix_attempt_invigilation ON attempt (invigilation_id) WHERE invigilation_id IS NOT NULL;
