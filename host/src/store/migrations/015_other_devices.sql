-- Devices of other programs, as they describe them: kept whole, for programs that ask.
CREATE TABLE other_devices (
    id       TEXT PRIMARY KEY,
    resource TEXT NOT NULL                   -- JSON
) STRICT, WITHOUT ROWID;
