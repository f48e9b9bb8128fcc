-- What each import alone brought, so that it can be taken back. Passages carry their source themselves.
CREATE TABLE brought (
    source_id INTEGER NOT NULL REFERENCES sources(id),
    kind      TEXT NOT NULL,                 -- tag, score, herd, case, item
    key       TEXT NOT NULL,                 -- the row's key, its parts divided by U+001F
    was       TEXT,                          -- the value that was there before; NULL: the row is new
    PRIMARY KEY (source_id, kind, key)
) WITHOUT ROWID;
ALTER TABLE sources ADD COLUMN undone_ms INTEGER; -- taken back then, UTC; NULL: not
ALTER TABLE sources ADD COLUMN noted INTEGER NOT NULL DEFAULT 0; -- 1: what it brought is noted below

-- A case that a file brought can go with its file; what people entered is kept.
DROP TRIGGER cases_are_kept;
CREATE TRIGGER cases_are_kept BEFORE DELETE ON cases
WHEN NOT EXISTS (SELECT 1 FROM brought WHERE kind = 'case' AND key = CAST(OLD.id AS TEXT))
BEGIN SELECT RAISE(ABORT, 'cases are kept: withdraw it instead'); END;
