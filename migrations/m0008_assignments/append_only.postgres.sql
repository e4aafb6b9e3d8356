-- Assignments, their withdrawals and who was named as a trainer are only ever added.
CREATE TRIGGER tr_assignment_change BEFORE UPDATE OR DELETE ON assignment
  FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER tr_assignment_truncate BEFORE TRUNCATE ON assignment
  FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();
CREATE TRIGGER tr_assignment_withdrawal_change BEFORE UPDATE OR DELETE ON assignment_withdrawal
  FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER tr_assignment_withdrawal_truncate BEFORE TRUNCATE ON assignment_withdrawal
  FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();
CREATE TRIGGER tr_named_trainer_change BEFORE UPDATE OR DELETE ON named_trainer
  FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER tr_named_trainer_truncate BEFORE TRUNCATE ON named_trainer
  FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();
