-- What came of listed cows at the gate of a lane.
CREATE TABLE gate_events (
    lane      TEXT NOT NULL,
    time_ms   INTEGER NOT NULL,              -- the tag was read, UTC, ms since the Unix epoch
    animal_id TEXT NOT NULL,
    outcome   TEXT NOT NULL,
    PRIMARY KEY (lane, time_ms, animal_id, outcome)
) STRICT, WITHOUT ROWID;

-- Cows whom somebody wants held back.
CREATE TABLE gate_holds (
    animal_id TEXT PRIMARY KEY,
    until_day TEXT NOT NULL,                 -- last day on which she is wanted
    why       TEXT NOT NULL,
    who       TEXT NOT NULL
) STRICT, WITHOUT ROWID;

-- Lists given to devices; a number is never given twice.
CREATE TABLE gate_lists (
    list     INTEGER PRIMARY KEY AUTOINCREMENT,
    device   TEXT NOT NULL,
    content  TEXT NOT NULL                   -- cows, most and end, as compared with the next
) STRICT;

-- What each device last said of its gate and its table of cows.
CREATE TABLE device_orders (
    device   TEXT PRIMARY KEY,
    heard_ms INTEGER NOT NULL,
    payload  BLOB NOT NULL                   -- postcard
) STRICT, WITHOUT ROWID;
