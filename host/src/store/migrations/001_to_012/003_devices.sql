-- Every lane device ever heard.
CREATE TABLE devices (
    device     TEXT PRIMARY KEY,             -- the device's number, 16 hexadecimal digits
    name       TEXT NOT NULL,                -- the lane's name as set in the device
    firmware   TEXT NOT NULL,
    schema     INTEGER NOT NULL,
    rate_hz    INTEGER NOT NULL,
    boot       INTEGER NOT NULL,             -- the latest boot heard of
    waiting    INTEGER NOT NULL,             -- items it had not delivered when it last said hello
    heard_ms   INTEGER NOT NULL              -- last hello or health, UTC, milliseconds since the Unix epoch
) WITHOUT ROWID;

-- Comparisons of a device's clock with UTC: the best of each stretch of a boot.
CREATE TABLE clock_sync (
    device    TEXT NOT NULL REFERENCES devices(device),
    boot      INTEGER NOT NULL,
    bucket    INTEGER NOT NULL,              -- which stretch
    device_ms REAL NOT NULL,                 -- the device's clock, milliseconds since its boot
    utc_ms    REAL NOT NULL,                 -- UTC at that moment
    error_ms  REAL NOT NULL,                 -- by how much the two may be off, either way
    PRIMARY KEY (device, boot, bucket)
) WITHOUT ROWID;

-- Everything that devices keep until it is acknowledged. A row stays for ever, so that what comes again is known.
CREATE TABLE device_items (
    device   TEXT NOT NULL REFERENCES devices(device),
    boot     INTEGER NOT NULL,
    sequence INTEGER NOT NULL,
    payload  BLOB,                           -- the message as received; NULL once its content has its place
    error_ms REAL,                           -- by how much its time may be off, once placed
    PRIMARY KEY (device, boot, sequence)
) WITHOUT ROWID;
CREATE INDEX device_items_waiting ON device_items(device, boot, sequence) WHERE payload IS NOT NULL;

CREATE TABLE device_health (
    device    TEXT NOT NULL REFERENCES devices(device),
    boot      INTEGER NOT NULL,
    uptime_ms INTEGER NOT NULL,
    heard_ms  INTEGER NOT NULL,              -- UTC, milliseconds since the Unix epoch
    payload   BLOB NOT NULL,                 -- the health message's body
    PRIMARY KEY (device, boot, uptime_ms)
) WITHOUT ROWID;
CREATE INDEX device_health_time ON device_health(device, heard_ms);
