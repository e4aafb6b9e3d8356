-- What was written down about a sitting stays. More time stays as it was set; only its reason can be blanked, with its salt.
CREATE TRIGGER tr_incident_update BEFORE UPDATE ON incident
  BEGIN SELECT RAISE(ABORT, 'append only: incident'); END;
CREATE TRIGGER tr_incident_delete BEFORE DELETE ON incident
  BEGIN SELECT RAISE(ABORT, 'append only: incident'); END;
CREATE TRIGGER tr_extra_time_update BEFORE UPDATE ON extra_time
  WHEN NEW.reason <> '' OR NEW.salt <> '' OR NEW.id <> OLD.id OR NEW.person_id <> OLD.person_id
    OR NEW.percent <> OLD.percent OR NEW.minutes <> OLD.minutes OR NEW.set_by <> OLD.set_by OR NEW.set_at <> OLD.set_at
    OR NEW.key <> OLD.key OR NEW.record_entry_id <> OLD.record_entry_id
  BEGIN SELECT RAISE(ABORT, 'append only: extra_time'); END;
CREATE TRIGGER tr_extra_time_delete BEFORE DELETE ON extra_time
  BEGIN SELECT RAISE(ABORT, 'append only: extra_time'); END;
-- The terms of a sitting never change after it has begun.
CREATE TRIGGER tr_attempt_terms BEFORE UPDATE OF extra_s, invigilation_id ON attempt
  WHEN NEW.extra_s IS NOT OLD.extra_s OR NEW.invigilation_id IS NOT OLD.invigilation_id
  BEGIN SELECT RAISE(ABORT, 'fixed: terms of attempt'); END;
