INSERT INTO known_place (place_hash, account_hash, last_at) VALUES ('0c', '0d', 4102444800000000);
