INSERT INTO observation (person_id, assessor_id, branch_id, task, machine_key, machine_version, model_version, checklist, opened_at, key)
  VALUES (1, 2, 1, 'lockout', 'tarrel-60', 1, 3, '[]', 1795508600000000, 'k1');
INSERT INTO observation_step (observation_id, position, mark, remark, saved_at, revision)
  VALUES ((SELECT max(id) FROM observation), 1, 'seen', '', 1795508700000000, 1);
INSERT INTO observation_result (observation_id, passed, missed_critical, outcome, signed_at, record_entry_id)
  VALUES ((SELECT max(id) FROM observation), {yes}, 0, '{}', 1795508800000000, (SELECT min(id) FROM record_entry));
