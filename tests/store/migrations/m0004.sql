INSERT INTO refresher_trigger (person_id, kind, text, recorded_by, recorded_at, key, record_entry_id)
  VALUES (1, 'near_miss', 'Parked over straw.', 2, 1795508300000000, 'k1', (SELECT min(id) FROM record_entry));
