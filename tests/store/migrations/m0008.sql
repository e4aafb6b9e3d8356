INSERT INTO assignment (person_id, kind, thing_key, due_day, made_by, made_at, key, record_entry_id)
  VALUES (1, 'module', 'first-day', '2026-12-24', 2, 1795508400000000, 'k1', (SELECT min(id) FROM record_entry));
INSERT INTO assignment_withdrawal (assignment_id, reason, withdrawn_by, withdrawn_at, record_entry_id)
  VALUES ((SELECT max(id) FROM assignment), 'On leave.', 2, 1795508500000000, (SELECT min(id) FROM record_entry));
INSERT INTO named_trainer (person_id, trainer_id, named_by, named_at, record_entry_id)
  VALUES (1, 2, 2, 1795508400000000, (SELECT min(id) FROM record_entry));
INSERT INTO access_key (key_hash, label, made_by, made_at) VALUES ('ab', 'the office', 2, 1795508400000000);
INSERT INTO calendar_feed (person_id, token_hash, made_at) VALUES (2, 'cd', 1795508400000000);
