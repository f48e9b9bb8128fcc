-- The keys of paired devices.
CREATE TABLE link_keys (
    device TEXT PRIMARY KEY,
    key    BLOB NOT NULL CHECK (length(key) = 32)
) STRICT;
