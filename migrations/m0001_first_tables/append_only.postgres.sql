-- Entries of the record and qualifications are only ever added.
CREATE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS
  $$ BEGIN RAISE EXCEPTION 'append only: %', TG_TABLE_NAME; END $$;
CREATE TRIGGER tr_record_entry_change BEFORE UPDATE OR DELETE ON record_entry
  FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER tr_record_entry_truncate BEFORE TRUNCATE ON record_entry
  FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();
CREATE TRIGGER tr_qualification_change BEFORE UPDATE OR DELETE ON qualification
  FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER tr_qualification_truncate BEFORE TRUNCATE ON qualification
  FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();
