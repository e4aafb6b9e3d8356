INSERT INTO letter_refusal (person_id, kind, refused_at) VALUES (1, 'digest', 1795508900000000);
INSERT INTO unsubscribe_token (token_hash, person_id, kind, made_at) VALUES ('ef', 1, 'digest', 1795508900000000);
