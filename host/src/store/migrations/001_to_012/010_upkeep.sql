-- When the file was last checked, and last backed up, UTC, ms since the Unix epoch.
CREATE TABLE upkeep (
    what  TEXT PRIMARY KEY,                  -- checked | backed_up
    at_ms INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
