-- Proposals, decisions, appeals, certificates and what becomes of them are only ever added.
CREATE TRIGGER tr_proposal_change BEFORE UPDATE OR DELETE ON proposal
  FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER tr_proposal_truncate BEFORE TRUNCATE ON proposal
  FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();
CREATE TRIGGER tr_decision_change BEFORE UPDATE OR DELETE ON decision
  FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER tr_decision_truncate BEFORE TRUNCATE ON decision
  FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();
CREATE TRIGGER tr_appeal_change BEFORE UPDATE OR DELETE ON appeal
  FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER tr_appeal_truncate BEFORE TRUNCATE ON appeal
  FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();
CREATE TRIGGER tr_appeal_decision_change BEFORE UPDATE OR DELETE ON appeal_decision
  FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER tr_appeal_decision_truncate BEFORE TRUNCATE ON appeal_decision
  FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();
CREATE TRIGGER tr_certificate_change BEFORE UPDATE OR DELETE ON certificate
  FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER tr_certificate_truncate BEFORE TRUNCATE ON certificate
  FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();
CREATE TRIGGER tr_certificate_machine_change BEFORE UPDATE OR DELETE ON certificate_machine
  FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER tr_certificate_machine_truncate BEFORE TRUNCATE ON certificate_machine
  FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();
CREATE TRIGGER tr_certificate_event_change BEFORE UPDATE OR DELETE ON certificate_event
  FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER tr_certificate_event_truncate BEFORE TRUNCATE ON certificate_event
  FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();
CREATE TRIGGER tr_refresher_trigger_change BEFORE UPDATE OR DELETE ON refresher_trigger
  FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER tr_refresher_trigger_truncate BEFORE TRUNCATE ON refresher_trigger
  FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();
