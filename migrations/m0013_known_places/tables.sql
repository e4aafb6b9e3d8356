-- From which network addresses and in which browsers an account was rightly signed in to in the last ninety days. Which account and
-- which place stands here only as hashes under a key of the installation: one of the two together, and one of the account, by which
-- they are forgotten.
CREATE TABLE known_place (
  place_hash   TEXT NOT NULL CONSTRAINT pk_known_place PRIMARY KEY,
  account_hash TEXT NOT NULL,
  last_at      {whole} NOT NULL
){strict};
CREATE INDEX ix_known_place_account ON known_place (account_hash);
CREATE INDEX ix_known_place_last ON known_place (last_at);
