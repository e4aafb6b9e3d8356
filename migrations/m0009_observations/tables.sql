-- Practical tasks seen at a machine, step by step, and signed by both.

-- The checklist is frozen with the versions it was made from, so that it can be shown years later. Never changed.
CREATE TABLE observation (
  id              {id},
  person_id       {whole} NOT NULL CONSTRAINT fk_observation_person REFERENCES person (id),
  assessor_id     {whole} NOT NULL CONSTRAINT fk_observation_assessor REFERENCES person (id),
  branch_id       {whole} NOT NULL CONSTRAINT fk_observation_branch REFERENCES branch (id),
  task            TEXT NOT NULL,
  machine_key     TEXT NOT NULL,
  machine_version INTEGER NOT NULL,
  model_version   INTEGER NOT NULL,
  checklist       TEXT NOT NULL,
  opened_at       {whole} NOT NULL,
  key             TEXT NOT NULL,
  CONSTRAINT ck_observation_two_people CHECK (person_id <> assessor_id)
){strict};
CREATE UNIQUE INDEX uq_observation_assessor_id_key ON observation (assessor_id, key);
CREATE INDEX ix_observation_person ON observation (person_id, id);
CREATE INDEX ix_observation_branch ON observation (branch_id, id);

-- How a step was marked last, by the server's clock. Changes until the observation is signed.
CREATE TABLE observation_step (
  observation_id {whole} NOT NULL CONSTRAINT fk_observation_step_observation REFERENCES observation (id),
  position       INTEGER NOT NULL CONSTRAINT ck_observation_step_position CHECK (position > 0),
  mark           TEXT NOT NULL CONSTRAINT ck_observation_step_mark CHECK (mark IN ('seen', 'not_seen', 'not_applicable')),
  remark         TEXT NOT NULL,
  saved_at       {whole} NOT NULL,
  revision       INTEGER NOT NULL CONSTRAINT ck_observation_step_revision CHECK (revision > 0),
  CONSTRAINT pk_observation_step PRIMARY KEY (observation_id, position)
){strict};

-- That both have signed, and what it came to. A critical step that was missed is never a pass.
CREATE TABLE observation_result (
  observation_id  {whole} NOT NULL CONSTRAINT pk_observation_result PRIMARY KEY
    CONSTRAINT fk_observation_result_observation REFERENCES observation (id),
  passed          {flag} NOT NULL,
  missed_critical INTEGER NOT NULL CONSTRAINT ck_observation_result_missed CHECK (missed_critical >= 0),
  outcome         TEXT NOT NULL,
  signed_at       {whole} NOT NULL,
  record_entry_id {whole} NOT NULL CONSTRAINT fk_observation_result_record_entry REFERENCES record_entry (id),
  CONSTRAINT ck_observation_result_critical CHECK (NOT passed OR missed_critical = 0)
){strict};
