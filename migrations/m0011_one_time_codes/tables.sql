-- The key behind somebody's one-time codes. Without confirmed_at it was only offered: no code of it was typed yet.
CREATE TABLE one_time_key (
  person_id    {whole} NOT NULL CONSTRAINT pk_one_time_key PRIMARY KEY
    CONSTRAINT fk_one_time_key_person REFERENCES person (id),
  secret       {bytes} NOT NULL,
  made_at      {whole} NOT NULL,
  confirmed_at {whole},
  -- The newest step whose code was taken: no code counts twice.
  last_step    {whole} NOT NULL
){strict};

-- Codes on paper for who has lost the phone, by their hashes; each counts once.
CREATE TABLE recovery_code (
  code_hash TEXT NOT NULL CONSTRAINT pk_recovery_code PRIMARY KEY,
  person_id {whole} NOT NULL CONSTRAINT fk_recovery_code_person REFERENCES person (id),
  made_at   {whole} NOT NULL,
  used_at   {whole}
){strict};
CREATE INDEX ix_recovery_code_person ON recovery_code (person_id);

-- What a session still waits for before it opens anything, and roughly what it was begun on.
ALTER TABLE session ADD COLUMN waits_for TEXT NOT NULL DEFAULT 'nothing'
  CONSTRAINT ck_session_waits_for CHECK (waits_for IN ('nothing', 'code', 'set_up'));
ALTER TABLE session ADD COLUMN device TEXT NOT NULL DEFAULT 'unknown'
  CONSTRAINT ck_session_device CHECK (device IN ('phone', 'computer', 'unknown'));
