-- Whose letter it is, what it is about and from which day before the end it was due: together they are a letter's key.
ALTER TABLE outbox ADD COLUMN person_id {whole} CONSTRAINT fk_outbox_person REFERENCES person (id);
ALTER TABLE outbox ADD COLUMN about TEXT;
ALTER TABLE outbox ADD COLUMN threshold INTEGER NOT NULL DEFAULT 0;
-- Where one click ends letters of this kind; only on those that may be refused.
ALTER TABLE outbox ADD COLUMN unsubscribe_link TEXT;
-- How often the mail server has refused it for good, and when it was left.
ALTER TABLE outbox ADD COLUMN refusals INTEGER NOT NULL DEFAULT 0;
ALTER TABLE outbox ADD COLUMN left_at {whole};
UPDATE outbox SET person_id = (SELECT p.id FROM person p WHERE p.email = outbox.to_address);
CREATE UNIQUE INDEX uq_outbox_person_id_deed_about_threshold ON outbox (person_id, deed, about, threshold);
CREATE INDEX ix_outbox_created ON outbox (created_at, id);
DROP INDEX ix_outbox_due;
CREATE INDEX ix_outbox_due ON outbox (due_at) WHERE sent_at IS NULL AND left_at IS NULL;

-- Which kinds of letters somebody does not want. No row: they get them.
CREATE TABLE letter_refusal (
  person_id       {whole} NOT NULL CONSTRAINT fk_letter_refusal_person REFERENCES person (id),
  kind            TEXT NOT NULL CONSTRAINT ck_letter_refusal_kind CHECK (kind IN ('expiry', 'reminder', 'digest')),
  refused_at      {whole} NOT NULL,
  PRIMARY KEY (person_id, kind)
){strict};

-- What a letter's one click ends, by the hash of the secret in its link.
CREATE TABLE unsubscribe_token (
  token_hash      TEXT NOT NULL PRIMARY KEY,
  person_id       {whole} NOT NULL CONSTRAINT fk_unsubscribe_token_person REFERENCES person (id),
  kind            TEXT NOT NULL CONSTRAINT ck_unsubscribe_token_kind CHECK (kind IN ('expiry', 'reminder', 'digest')),
  made_at         {whole} NOT NULL
){strict};
CREATE INDEX ix_unsubscribe_token_person ON unsubscribe_token (person_id);
