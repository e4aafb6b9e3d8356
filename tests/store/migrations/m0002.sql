INSERT INTO template_draft (author_id, key, base, source, state, revision, changed_at)
  VALUES (2, 'fire/straw', 0, 'name = "x"', 'writing', 1, 1795508200000000);
