-- What was written down about a sitting stays. More time stays as it was set; only its reason can be blanked, with its salt.
CREATE TRIGGER tr_incident_change BEFORE UPDATE OR DELETE ON incident
  FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER tr_incident_truncate BEFORE TRUNCATE ON incident
  FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();
CREATE TRIGGER tr_extra_time_update BEFORE UPDATE ON extra_time
  FOR EACH ROW WHEN (NEW.reason <> '' OR NEW.salt <> '' OR NEW.id <> OLD.id OR NEW.person_id <> OLD.person_id
    OR NEW.percent <> OLD.percent OR NEW.minutes <> OLD.minutes OR NEW.set_by <> OLD.set_by OR NEW.set_at <> OLD.set_at
    OR NEW.key <> OLD.key OR NEW.record_entry_id <> OLD.record_entry_id) EXECUTE FUNCTION refuse_change();
CREATE TRIGGER tr_extra_time_delete BEFORE DELETE ON extra_time
  FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER tr_extra_time_truncate BEFORE TRUNCATE ON extra_time
  FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();
-- The terms of a sitting never change after it has begun.
CREATE TRIGGER tr_attempt_terms BEFORE UPDATE OF extra_s, invigilation_id ON attempt
  FOR EACH ROW WHEN (NEW.extra_s IS DISTINCT FROM OLD.extra_s OR NEW.invigilation_id IS DISTINCT FROM OLD.invigilation_id)
  EXECUTE FUNCTION refuse_change();
