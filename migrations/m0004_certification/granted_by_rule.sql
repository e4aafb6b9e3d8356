-- Every attempt that had qualified somebody: a proposal to grant, a decision by nobody, a certificate.
INSERT INTO proposal (attempt_id, person_id, scheme_key, scheme_version, proposes, safety_miss, grounds, competences,
  machines, examined_at, valid_until, made_at, record_entry_id)
SELECT q.attempt_id, q.person_id, q.scheme_key, q.scheme_version, 'grant', {no}, '[]', '[]', '[]', min(q.valid_from),
  min(q.valid_until), min(q.valid_from), min(q.record_entry_id)
FROM qualification q
WHERE q.outcome = 'qualified' AND q.valid_until IS NOT NULL
GROUP BY q.attempt_id, q.person_id, q.scheme_key, q.scheme_version
ORDER BY q.attempt_id;

INSERT INTO decision (attempt_id, proposal_id, proposes, outcome, reason, decided_by, decided_at, key, record_entry_id)
SELECT attempt_id, id, proposes, 'granted', 'Granted by rule, before service managers decided.', NULL, made_at, '',
  record_entry_id
FROM proposal ORDER BY id;

INSERT INTO certificate (attempt_id, proposal_id, proposes, person_id, scheme_key, scheme_version, year, running,
  examined_at, valid_from, valid_until, record_entry_id)
SELECT q.attempt_id, q.id, 'grant', q.person_id, q.scheme_key, q.scheme_version, {year},
  row_number() OVER (PARTITION BY {year} ORDER BY q.at, q.id), q.at, q.at, q.valid_until, q.record_entry_id
FROM (SELECT id, attempt_id, person_id, scheme_key, scheme_version, made_at AS at, valid_until, record_entry_id
  FROM proposal) q
ORDER BY q.id;

INSERT INTO certificate_machine (certificate_id, machine_key, machine_version)
SELECT c.id, a.machine_key, max(a.machine_version)
FROM certificate c JOIN attempt_question a ON a.attempt_id = c.attempt_id
GROUP BY c.id, a.machine_key;

INSERT INTO certificate_event (certificate_id, kind, reason, done_by, at, record_entry_id)
SELECT c.id, 'renewed', 'A newer certificate by the same scheme was granted.', NULL, c.at, c.record_entry_id
FROM (SELECT id, lead(valid_from) OVER (PARTITION BY person_id, scheme_key ORDER BY id) AS at,
    lead(record_entry_id) OVER (PARTITION BY person_id, scheme_key ORDER BY id) AS record_entry_id
  FROM certificate) c
WHERE c.at IS NOT NULL
ORDER BY c.id;
