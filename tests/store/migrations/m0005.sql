INSERT INTO question_flag (attempt_id, position, flagged_at) VALUES (1, 1, 1795507800000000);
INSERT INTO extra_time (person_id, percent, minutes, reason, salt, set_by, set_at, key, record_entry_id)
  VALUES (1, 25, 0, 'reads slowly', 'salt', 2, 1795507000000000, 'k1', (SELECT min(id) FROM record_entry));
INSERT INTO invigilation (scheme_key, branch_id, code, opened_by, opened_at, expires_at, key)
  VALUES ('first-day', 1, 'ABCD2345', 2, 1795507000000000, 1795527000000000, 'k1');
INSERT INTO incident (attempt_id, kind, text, noted_by, noted_at, key, record_entry_id)
  VALUES (1, 'noted', 'The light went out.', 2, 1795507500000000, 'k1', (SELECT min(id) FROM record_entry));
