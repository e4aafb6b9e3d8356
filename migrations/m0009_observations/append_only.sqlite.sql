-- An observation and its result never change. Its steps do, until there is a result.
CREATE TRIGGER tr_observation_update BEFORE UPDATE ON observation
  BEGIN SELECT RAISE(ABORT, 'append only: observation'); END;
CREATE TRIGGER tr_observation_delete BEFORE DELETE ON observation
  BEGIN SELECT RAISE(ABORT, 'append only: observation'); END;
CREATE TRIGGER tr_observation_result_update BEFORE UPDATE ON observation_result
  BEGIN SELECT RAISE(ABORT, 'append only: observation_result'); END;
CREATE TRIGGER tr_observation_result_delete BEFORE DELETE ON observation_result
  BEGIN SELECT RAISE(ABORT, 'append only: observation_result'); END;
CREATE TRIGGER tr_observation_step_insert BEFORE INSERT ON observation_step
  WHEN EXISTS (SELECT 1 FROM observation_result WHERE observation_id = NEW.observation_id)
  BEGIN SELECT RAISE(ABORT, 'signed: observation_step'); END;
CREATE TRIGGER tr_observation_step_update BEFORE UPDATE ON observation_step
  WHEN NEW.observation_id <> OLD.observation_id OR NEW.position <> OLD.position
    OR EXISTS (SELECT 1 FROM observation_result WHERE observation_id = OLD.observation_id)
  BEGIN SELECT RAISE(ABORT, 'signed: observation_step'); END;
CREATE TRIGGER tr_observation_step_delete BEFORE DELETE ON observation_step
  BEGIN SELECT RAISE(ABORT, 'append only: observation_step'); END;
