INSERT INTO wrong_try (source_hash, count, last_at) VALUES ('0b', 3, 4102444800000000);
