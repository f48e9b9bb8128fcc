-- The keys of paired devices.
CREATE TABLE link_keys (
    device TEXT PRIMARY KEY,
    key    BLOB NOT NULL CHECK (length(key) = 32)
) STRICT;

-- The journals of each device: its boots are counted on from `base`, so that those of a journal made anew, which count
-- from 1 again, are others than those before.
CREATE TABLE device_journals (
    device  TEXT    NOT NULL,
    journal INTEGER NOT NULL,
    base    INTEGER NOT NULL,
    PRIMARY KEY (device, journal)
) STRICT;
