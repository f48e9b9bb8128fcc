-- Items are known by their content too: a device that counts anew, or shares another's number, is found by it.
ALTER TABLE device_items ADD COLUMN crc32 INTEGER; -- CRC-32/ISCSI of the payload as received; NULL: kept before

-- Items that came under a key that was taken: neither stored nor acknowledged, so that the device keeps them.
CREATE TABLE device_conflicts (
    device     TEXT PRIMARY KEY REFERENCES devices(device),
    since_ms   INTEGER NOT NULL,             -- first noticed, UTC
    refused    INTEGER NOT NULL              -- batches refused since
) WITHOUT ROWID;
