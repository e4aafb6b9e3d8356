-- What people are to do by a day. Whether it is done is worked out from the record, never kept.
CREATE TABLE assignment (
  id              {id},
  person_id       {whole} CONSTRAINT fk_assignment_person REFERENCES person (id),
  branch_id       {whole} CONSTRAINT fk_assignment_branch REFERENCES branch (id),
  role            TEXT CONSTRAINT ck_assignment_role CHECK (role IN ('technician', 'trainer')),
  kind            TEXT NOT NULL CONSTRAINT ck_assignment_kind CHECK (kind IN ('scheme', 'module')),
  thing_key       TEXT NOT NULL,
  due_day         TEXT NOT NULL CONSTRAINT ck_assignment_due_day CHECK (length(due_day) = 10),
  made_by         {whole} NOT NULL CONSTRAINT fk_assignment_made_by REFERENCES person (id),
  made_at         {whole} NOT NULL,
  key             TEXT NOT NULL,
  record_entry_id {whole} NOT NULL CONSTRAINT fk_assignment_record_entry REFERENCES record_entry (id),
  CONSTRAINT ck_assignment_to_one CHECK (
    (CASE WHEN person_id IS NULL THEN 0 ELSE 1 END) + (CASE WHEN branch_id IS NULL THEN 0 ELSE 1 END)
      + (CASE WHEN role IS NULL THEN 0 ELSE 1 END) = 1)
){strict};
CREATE UNIQUE INDEX uq_assignment_made_by_key ON assignment (made_by, key);
CREATE INDEX ix_assignment_person ON assignment (person_id);

CREATE TABLE assignment_withdrawal (
  assignment_id   {whole} NOT NULL CONSTRAINT fk_assignment_withdrawal_assignment REFERENCES assignment (id),
  reason          TEXT NOT NULL CONSTRAINT ck_assignment_withdrawal_reason CHECK (length(reason) > 0),
  withdrawn_by    {whole} NOT NULL CONSTRAINT fk_assignment_withdrawal_withdrawn_by REFERENCES person (id),
  withdrawn_at    {whole} NOT NULL,
  record_entry_id {whole} NOT NULL CONSTRAINT fk_assignment_withdrawal_record_entry REFERENCES record_entry (id)
){strict};
CREATE UNIQUE INDEX uq_assignment_withdrawal_assignment_id ON assignment_withdrawal (assignment_id);

-- Who was named as somebody's trainer, one row each time; nobody when the naming was taken back. All of them trained the person.
CREATE TABLE named_trainer (
  id              {id},
  person_id       {whole} NOT NULL CONSTRAINT fk_named_trainer_person REFERENCES person (id),
  trainer_id      {whole} CONSTRAINT fk_named_trainer_trainer REFERENCES person (id),
  named_by        {whole} NOT NULL CONSTRAINT fk_named_trainer_named_by REFERENCES person (id),
  named_at        {whole} NOT NULL,
  record_entry_id {whole} NOT NULL CONSTRAINT fk_named_trainer_record_entry REFERENCES record_entry (id),
  CONSTRAINT ck_named_trainer_another CHECK (trainer_id IS NULL OR trainer_id <> person_id)
){strict};
CREATE INDEX ix_named_trainer_person ON named_trainer (person_id, id);

-- Keys with which other programs ask who is qualified. Only hashes are kept.
CREATE TABLE access_key (
  id              {id},
  key_hash        TEXT NOT NULL,
  label           TEXT NOT NULL CONSTRAINT ck_access_key_label CHECK (length(label) > 0),
  branch_id       {whole} CONSTRAINT fk_access_key_branch REFERENCES branch (id),
  made_by         {whole} NOT NULL CONSTRAINT fk_access_key_made_by REFERENCES person (id),
  made_at         {whole} NOT NULL,
  revoked_by      {whole} CONSTRAINT fk_access_key_revoked_by REFERENCES person (id),
  revoked_at      {whole}
){strict};
CREATE UNIQUE INDEX uq_access_key_key_hash ON access_key (key_hash);

-- The secret address of a service manager's calendar, by its hash; a new one takes the old one's place.
CREATE TABLE calendar_feed (
  person_id       {whole} PRIMARY KEY CONSTRAINT fk_calendar_feed_person REFERENCES person (id),
  token_hash      TEXT NOT NULL,
  made_at         {whole} NOT NULL
){strict};
CREATE UNIQUE INDEX uq_calendar_feed_token_hash ON calendar_feed (token_hash);
