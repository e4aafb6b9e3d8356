-- An observation and its result never change. Its steps do, until there is a result.
CREATE TRIGGER tr_observation_change BEFORE UPDATE OR DELETE ON observation
  FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER tr_observation_truncate BEFORE TRUNCATE ON observation
  FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();
CREATE TRIGGER tr_observation_result_change BEFORE UPDATE OR DELETE ON observation_result
  FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER tr_observation_result_truncate BEFORE TRUNCATE ON observation_result
  FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();
CREATE FUNCTION refuse_signed_step() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF EXISTS (SELECT 1 FROM observation_result WHERE observation_id = NEW.observation_id) THEN
    RAISE EXCEPTION 'signed: observation_step';
  END IF;
  RETURN NEW;
END $$;
CREATE TRIGGER tr_observation_step_signed BEFORE INSERT OR UPDATE ON observation_step
  FOR EACH ROW EXECUTE FUNCTION refuse_signed_step();
CREATE TRIGGER tr_observation_step_moved BEFORE UPDATE ON observation_step
  FOR EACH ROW WHEN (NEW.observation_id <> OLD.observation_id OR NEW.position <> OLD.position)
  EXECUTE FUNCTION refuse_change();
CREATE TRIGGER tr_observation_step_delete BEFORE DELETE ON observation_step
  FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER tr_observation_step_truncate BEFORE TRUNCATE ON observation_step
  FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();
