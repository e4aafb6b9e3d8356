ALTER TABLE attempt_question ADD COLUMN part INTEGER NOT NULL DEFAULT 1
  CONSTRAINT ck_attempt_question_part CHECK (part > 0);
ALTER TABLE attempt_question ADD COLUMN parts INTEGER NOT NULL DEFAULT 1
  CONSTRAINT ck_attempt_question_parts CHECK (parts > 0);
