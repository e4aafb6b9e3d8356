-- The first tables, written once for SQLite and PostgreSQL. The words in braces are the few types that differ
-- (see ../types.rs). Times are whole microseconds since 1970-01-01 00:00 UTC.

CREATE TABLE setting (
  key   TEXT NOT NULL CONSTRAINT pk_setting PRIMARY KEY,
  value TEXT NOT NULL
){strict};

CREATE TABLE branch (
  id        {id},
  name      TEXT NOT NULL,
  time_zone TEXT NOT NULL
){strict};
CREATE UNIQUE INDEX uq_branch_name ON branch (name);

CREATE TABLE person (
  id               {id},
  branch_id        {whole} NOT NULL CONSTRAINT fk_person_branch REFERENCES branch (id),
  email            TEXT NOT NULL,
  email_norm       TEXT NOT NULL,
  display_name     TEXT NOT NULL,
  name_norm        TEXT NOT NULL,
  role             TEXT NOT NULL
    CONSTRAINT ck_person_role CHECK (role IN ('technician', 'trainer', 'service_manager', 'administrator')),
  password_phc     TEXT,
  temperature_unit TEXT NOT NULL
    CONSTRAINT ck_person_temperature_unit CHECK (temperature_unit IN ('celsius', 'fahrenheit')),
  active           {flag} NOT NULL,
  scheme_key       TEXT,
  created_at       {whole} NOT NULL
){strict};
CREATE UNIQUE INDEX uq_person_email_norm ON person (email_norm);
CREATE INDEX ix_person_branch_name ON person (branch_id, name_norm);

CREATE TABLE session (
  token_hash   TEXT NOT NULL CONSTRAINT pk_session PRIMARY KEY,
  person_id    {whole} NOT NULL CONSTRAINT fk_session_person REFERENCES person (id),
  form_token   TEXT NOT NULL,
  created_at   {whole} NOT NULL,
  last_seen_at {whole} NOT NULL,
  expires_at   {whole} NOT NULL
){strict};
CREATE INDEX ix_session_person ON session (person_id);
CREATE INDEX ix_session_expires ON session (expires_at);

CREATE TABLE invitation (
  token_hash TEXT NOT NULL CONSTRAINT pk_invitation PRIMARY KEY,
  person_id  {whole} NOT NULL CONSTRAINT fk_invitation_person REFERENCES person (id),
  created_at {whole} NOT NULL,
  expires_at {whole} NOT NULL,
  used_at    {whole}
){strict};
CREATE INDEX ix_invitation_person ON invitation (person_id);

CREATE TABLE bank_document (
  id         {id},
  kind       TEXT NOT NULL
    CONSTRAINT ck_bank_document_kind
    CHECK (kind IN ('machine', 'competences', 'module', 'lesson', 'scheme', 'template')),
  key        TEXT NOT NULL,
  version    INTEGER NOT NULL CONSTRAINT ck_bank_document_version CHECK (version > 0),
  source     TEXT NOT NULL,
  sha256     TEXT NOT NULL,
  origin     TEXT NOT NULL CONSTRAINT ck_bank_document_origin CHECK (origin IN ('file', 'editor')),
  state      TEXT NOT NULL CONSTRAINT ck_bank_document_state CHECK (state IN ('published', 'draft', 'retired')),
  author_id  {whole} CONSTRAINT fk_bank_document_author REFERENCES person (id),
  created_at {whole} NOT NULL
){strict};
CREATE UNIQUE INDEX uq_bank_document_kind_key_version ON bank_document (kind, key, version);

CREATE TABLE attempt (
  id               {id},
  person_id        {whole} NOT NULL CONSTRAINT fk_attempt_person REFERENCES person (id),
  kind             TEXT NOT NULL CONSTRAINT ck_attempt_kind CHECK (kind IN ('practice', 'examination')),
  scheme_key       TEXT,
  scheme_version   INTEGER,
  module_key       TEXT,
  seed             {bytes} NOT NULL CONSTRAINT ck_attempt_seed CHECK (length(seed) = 32),
  temperature_unit TEXT NOT NULL
    CONSTRAINT ck_attempt_temperature_unit CHECK (temperature_unit IN ('celsius', 'fahrenheit')),
  state            TEXT NOT NULL CONSTRAINT ck_attempt_state CHECK (state IN ('open', 'submitted', 'expired')),
  started_at       {whole} NOT NULL,
  deadline_at      {whole},
  submitted_at     {whole},
  submit_key       TEXT,
  CONSTRAINT ck_attempt_scheme
    CHECK (kind <> 'examination' OR (scheme_key IS NOT NULL AND scheme_version IS NOT NULL)),
  CONSTRAINT ck_attempt_submitted CHECK ((state = 'open') = (submitted_at IS NULL))
){strict};
CREATE INDEX ix_attempt_person ON attempt (person_id, started_at);
CREATE INDEX ix_attempt_deadline ON attempt (deadline_at) WHERE state = 'open';
CREATE UNIQUE INDEX uq_attempt_person_id_scheme_key ON attempt (person_id, scheme_key)
  WHERE state = 'open' AND kind = 'examination';

CREATE TABLE attempt_question (
  id               {id},
  attempt_id       {whole} NOT NULL CONSTRAINT fk_attempt_question_attempt REFERENCES attempt (id),
  position         INTEGER NOT NULL CONSTRAINT ck_attempt_question_position CHECK (position > 0),
  template_key     TEXT NOT NULL,
  template_version INTEGER NOT NULL,
  machine_key      TEXT NOT NULL,
  machine_version  INTEGER NOT NULL,
  model_version    INTEGER NOT NULL,
  competence_key   TEXT NOT NULL,
  mandatory        {flag} NOT NULL,
  question         TEXT NOT NULL
){strict};
CREATE UNIQUE INDEX uq_attempt_question_attempt_id_position ON attempt_question (attempt_id, position);

CREATE TABLE response (
  id         {id},
  attempt_id {whole} NOT NULL,
  position   INTEGER NOT NULL,
  answer     TEXT NOT NULL,
  saved_at   {whole} NOT NULL,
  revision   INTEGER NOT NULL CONSTRAINT ck_response_revision CHECK (revision > 0),
  CONSTRAINT fk_response_question FOREIGN KEY (attempt_id, position)
    REFERENCES attempt_question (attempt_id, position)
){strict};
CREATE UNIQUE INDEX uq_response_attempt_id_position ON response (attempt_id, position);

CREATE TABLE grade (
  id             {id},
  attempt_id     {whole} NOT NULL,
  position       INTEGER NOT NULL,
  correct        {flag} NOT NULL,
  points         {real} NOT NULL,
  misconceptions TEXT NOT NULL,
  CONSTRAINT fk_grade_question FOREIGN KEY (attempt_id, position)
    REFERENCES attempt_question (attempt_id, position)
){strict};
CREATE UNIQUE INDEX uq_grade_attempt_id_position ON grade (attempt_id, position);

CREATE TABLE attempt_result (
  attempt_id {whole} NOT NULL CONSTRAINT pk_attempt_result PRIMARY KEY
    CONSTRAINT fk_attempt_result_attempt REFERENCES attempt (id),
  score      {real} NOT NULL,
  passed     {flag} NOT NULL,
  outcome    TEXT NOT NULL,
  graded_at  {whole} NOT NULL
){strict};

CREATE TABLE debrief (
  id         {id},
  attempt_id {whole} NOT NULL CONSTRAINT fk_debrief_attempt REFERENCES attempt (id),
  trainer_id {whole} NOT NULL CONSTRAINT fk_debrief_trainer REFERENCES person (id),
  note       TEXT NOT NULL,
  held_at    {whole} NOT NULL
){strict};
CREATE UNIQUE INDEX uq_debrief_attempt_id ON debrief (attempt_id);

CREATE TABLE lesson_read (
  person_id  {whole} NOT NULL CONSTRAINT fk_lesson_read_person REFERENCES person (id),
  module_key TEXT NOT NULL,
  lesson_key TEXT NOT NULL,
  read_at    {whole} NOT NULL,
  CONSTRAINT pk_lesson_read PRIMARY KEY (person_id, module_key, lesson_key)
){strict};

-- What was done, by whom, each entry chained to the one before by its SHA-256.
CREATE TABLE record_entry (
  id           {id},
  at           {whole} NOT NULL,
  actor_id     {whole} CONSTRAINT fk_record_entry_actor REFERENCES person (id),
  deed         TEXT NOT NULL,
  subject_kind TEXT NOT NULL,
  subject_id   {whole},
  detail       TEXT NOT NULL,
  prev_hash    TEXT NOT NULL,
  hash         TEXT NOT NULL
){strict};
CREATE UNIQUE INDEX uq_record_entry_hash ON record_entry (hash);
-- Two entries can never claim the same place in the chain.
CREATE UNIQUE INDEX uq_record_entry_prev_hash ON record_entry (prev_hash);
CREATE INDEX ix_record_entry_subject ON record_entry (subject_kind, subject_id);

-- One row: where the chain ends. Appending locks it; it also shows when the last entries were cut off.
CREATE TABLE record_head (
  id      INTEGER NOT NULL CONSTRAINT pk_record_head PRIMARY KEY CONSTRAINT ck_record_head_one CHECK (id = 1),
  hash    TEXT NOT NULL,
  entries {whole} NOT NULL
){strict};
INSERT INTO record_head (id, hash, entries)
  VALUES (1, '0000000000000000000000000000000000000000000000000000000000000000', 0);

CREATE TABLE qualification (
  id              {id},
  person_id       {whole} NOT NULL CONSTRAINT fk_qualification_person REFERENCES person (id),
  competence_key  TEXT NOT NULL,
  attempt_id      {whole} NOT NULL CONSTRAINT fk_qualification_attempt REFERENCES attempt (id),
  outcome         TEXT NOT NULL CONSTRAINT ck_qualification_outcome CHECK (outcome IN ('qualified', 'refused')),
  safety_miss     {flag} NOT NULL,
  reason          TEXT NOT NULL,
  valid_from      {whole} NOT NULL,
  valid_until     {whole},
  scheme_key      TEXT NOT NULL,
  scheme_version  INTEGER NOT NULL,
  record_entry_id {whole} NOT NULL CONSTRAINT fk_qualification_record_entry REFERENCES record_entry (id)
){strict};
-- One attempt decides once about one competence.
CREATE UNIQUE INDEX uq_qualification_attempt_id_competence_key ON qualification (attempt_id, competence_key);
CREATE INDEX ix_qualification_person ON qualification (person_id, competence_key, id);
CREATE INDEX ix_qualification_competence ON qualification (competence_key, person_id, id);

CREATE TABLE outbox (
  id           {id},
  to_address   TEXT NOT NULL,
  to_name      TEXT NOT NULL,
  subject      TEXT NOT NULL,
  text_body    TEXT NOT NULL,
  html_body    TEXT NOT NULL,
  deed         TEXT NOT NULL,
  created_at   {whole} NOT NULL,
  due_at       {whole} NOT NULL,
  tries        INTEGER NOT NULL,
  locked_until {whole},
  sent_at      {whole},
  last_error   TEXT
){strict};
CREATE INDEX ix_outbox_due ON outbox (due_at) WHERE sent_at IS NULL;
