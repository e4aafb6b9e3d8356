-- Wrong passwords and codes of the last hour, counted for all servers together. Whose they are, or where they came from, stands
-- here only as a hash under a key of the installation.
CREATE TABLE wrong_try (
  source_hash TEXT NOT NULL CONSTRAINT pk_wrong_try PRIMARY KEY,
  count       {whole} NOT NULL CONSTRAINT ck_wrong_try_count CHECK (count >= 0),
  last_at     {whole} NOT NULL
){strict};
CREATE INDEX ix_wrong_try_last ON wrong_try (last_at);
