-- Assignments, their withdrawals and who was named as a trainer are only ever added.
CREATE TRIGGER tr_assignment_update BEFORE UPDATE ON assignment
  BEGIN SELECT RAISE(ABORT, 'append only: assignment'); END;
CREATE TRIGGER tr_assignment_delete BEFORE DELETE ON assignment
  BEGIN SELECT RAISE(ABORT, 'append only: assignment'); END;
CREATE TRIGGER tr_assignment_withdrawal_update BEFORE UPDATE ON assignment_withdrawal
  BEGIN SELECT RAISE(ABORT, 'append only: assignment_withdrawal'); END;
CREATE TRIGGER tr_assignment_withdrawal_delete BEFORE DELETE ON assignment_withdrawal
  BEGIN SELECT RAISE(ABORT, 'append only: assignment_withdrawal'); END;
CREATE TRIGGER tr_named_trainer_update BEFORE UPDATE ON named_trainer
  BEGIN SELECT RAISE(ABORT, 'append only: named_trainer'); END;
CREATE TRIGGER tr_named_trainer_delete BEFORE DELETE ON named_trainer
  BEGIN SELECT RAISE(ABORT, 'append only: named_trainer'); END;
