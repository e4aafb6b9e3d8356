INSERT INTO attempt (id, person_id, kind, scheme_key, scheme_version, seed, temperature_unit, state, started_at, deadline_at, submitted_at)
  VALUES (1, 1, 'examination', 'first-day', 1, {seed}, 'celsius', 'submitted', 1795507200000000, 1795509000000000, 1795508000000000);
INSERT INTO attempt_question (attempt_id, position, template_key, template_version, machine_key, machine_version, model_version, competence_key, mandatory, question)
  VALUES (1, 1, 'fire-first', 1, 'tarrel-60', 1, 1, 'fire', {yes}, '{"asks": "at 95 %"}');
INSERT INTO response (attempt_id, position, answer, saved_at, revision) VALUES (1, 1, '{"Options":[0]}', 1795507900000000, 2);
INSERT INTO grade (attempt_id, position, correct, points, misconceptions) VALUES (1, 1, {yes}, 0.1, '[]');
INSERT INTO attempt_result (attempt_id, score, passed, outcome, graded_at) VALUES (1, 66.66666666666667, {yes}, '{}', 1795508000000000);
INSERT INTO qualification (person_id, competence_key, attempt_id, outcome, safety_miss, reason, valid_from, valid_until, scheme_key, scheme_version, record_entry_id)
  VALUES (1, 'fire', 1, 'qualified', {no}, 'passed', 1795508000000000, 1827044000000000, 'first-day', 1, (SELECT min(id) FROM record_entry));
INSERT INTO debrief (attempt_id, trainer_id, note, held_at) VALUES (1, 2, 'We walked round the machine.', 1795508100000000);
INSERT INTO lesson_read (person_id, module_key, lesson_key, read_at) VALUES (1, 'first-day', 'straw', 1795507100000000);
INSERT INTO bank_document (kind, key, version, source, sha256, origin, state, created_at)
  VALUES ('machine', 'tarrel-60', 1, 'name = "Tarrel 60"', 'ab', 'file', 'published', 1795507000000000);
INSERT INTO outbox (to_address, to_name, subject, text_body, html_body, deed, created_at, due_at, tries)
  VALUES ('ines@fennmark.example', 'Ines Varga', 'Passed', 'text', '<p>text</p>', 'result', 1795508000000000, 1795508000000000, 0);
INSERT INTO setting (key, value) VALUES ('demo', 'no');
