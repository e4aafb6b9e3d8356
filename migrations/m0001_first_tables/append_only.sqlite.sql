-- Entries of the record and qualifications are only ever added.
CREATE TRIGGER tr_record_entry_update BEFORE UPDATE ON record_entry
  BEGIN SELECT RAISE(ABORT, 'append only: record_entry'); END;
CREATE TRIGGER tr_record_entry_delete BEFORE DELETE ON record_entry
  BEGIN SELECT RAISE(ABORT, 'append only: record_entry'); END;
CREATE TRIGGER tr_qualification_update BEFORE UPDATE ON qualification
  BEGIN SELECT RAISE(ABORT, 'append only: qualification'); END;
CREATE TRIGGER tr_qualification_delete BEFORE DELETE ON qualification
  BEGIN SELECT RAISE(ABORT, 'append only: qualification'); END;
