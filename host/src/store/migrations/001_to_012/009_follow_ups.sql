-- A follow-up that a file brought can go with its file; what people entered is kept.
DROP TRIGGER follow_ups_are_kept;
CREATE TRIGGER follow_ups_are_kept BEFORE DELETE ON follow_ups
WHEN NOT EXISTS (SELECT 1 FROM brought WHERE kind = 'follow_up' AND key = CAST(OLD.id AS TEXT))
BEGIN SELECT RAISE(ABORT, 'follow-ups are kept'); END;

-- Why a look no longer counts; NULL: it does.
ALTER TABLE follow_ups ADD COLUMN withdrawn TEXT;
