-- Who may look at the pages over the network, and record.
CREATE TABLE people (
    name     TEXT PRIMARY KEY,
    role     TEXT NOT NULL CHECK (role IN ('look', 'record', 'administer')),
    password TEXT NOT NULL                   -- PHC string: Argon2id with its salt
) STRICT, WITHOUT ROWID;

-- What was done on the pages, by whom. Rows are added only.
CREATE TABLE deeds (
    id    INTEGER PRIMARY KEY,
    at_ms INTEGER NOT NULL,                  -- UTC, ms since the Unix epoch
    who   TEXT NOT NULL,
    what  TEXT NOT NULL
) STRICT;
