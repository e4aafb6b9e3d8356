-- A draft is its author's alone while it is written; its text stands still while another trainer reviews it. A draft that
-- was published or dropped stays, so that nothing anybody typed is lost.
CREATE TABLE template_draft (
  id          {id},
  author_id   {whole} NOT NULL CONSTRAINT fk_template_draft_author REFERENCES person (id),
  key         TEXT NOT NULL,
  base        INTEGER NOT NULL CONSTRAINT ck_template_draft_base CHECK (base >= 0),
  source      TEXT NOT NULL,
  state       TEXT NOT NULL
    CONSTRAINT ck_template_draft_state CHECK (state IN ('writing', 'in_review', 'published', 'dropped')),
  revision    INTEGER NOT NULL,
  remark      TEXT,
  reviewer_id {whole} CONSTRAINT fk_template_draft_reviewer REFERENCES person (id),
  changed_at  {whole} NOT NULL
){strict};
CREATE INDEX ix_template_draft_state ON template_draft (state, key);
CREATE INDEX ix_template_draft_author ON template_draft (author_id, state);
