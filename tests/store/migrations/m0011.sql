INSERT INTO one_time_key (person_id, secret, made_at, confirmed_at, last_step) VALUES (2, {seed}, 1795508900000000, 1795508910000000, 59850296);
INSERT INTO recovery_code (code_hash, person_id, made_at) VALUES ('0a', 2, 1795508900000000);
