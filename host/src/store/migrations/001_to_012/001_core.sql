-- Settings of the farm: one line each; a key that is not here has its default.
CREATE TABLE settings (
    key   TEXT PRIMARY KEY,
    value TEXT NOT NULL
) WITHOUT ROWID;

-- Every file or link that brought something in.
CREATE TABLE sources (
    id          INTEGER PRIMARY KEY,
    kind        TEXT NOT NULL,               -- readings, tags, herd, scores, passages, trims, capture, link
    name        TEXT NOT NULL,               -- file name as given, or the port
    bytes       INTEGER NOT NULL DEFAULT 0,
    crc32       INTEGER NOT NULL DEFAULT 0,  -- CRC-32/ISCSI of the bytes read
    begun_ms    INTEGER NOT NULL,            -- UTC, milliseconds since the Unix epoch
    finished_ms INTEGER,                     -- NULL: still running, or killed
    rows        INTEGER NOT NULL DEFAULT 0,
    added       INTEGER NOT NULL DEFAULT 0,
    already     INTEGER NOT NULL DEFAULT 0,
    bad         INTEGER NOT NULL DEFAULT 0
);

CREATE TABLE passages (
    id             INTEGER PRIMARY KEY,
    lane           TEXT NOT NULL,
    start_ms       INTEGER NOT NULL,         -- first foot on, UTC, milliseconds since the Unix epoch
    end_ms         INTEGER NOT NULL,         -- last foot off
    animal_id      TEXT,
    animal_given   INTEGER NOT NULL DEFAULT 0, -- 1: the source named her; tag reads do not change it
    evidence       TEXT NOT NULL DEFAULT 'no tag',
    record_version INTEGER NOT NULL,
    record         BLOB NOT NULL,            -- the passage summary as the message format has it
    source_id      INTEGER REFERENCES sources(id)
);
CREATE INDEX passages_time ON passages(start_ms);
CREATE INDEX passages_animal ON passages(animal_id, start_ms);

-- Apart from passages, so that reading all passages does not walk over them.
CREATE TABLE traces (
    passage_id INTEGER PRIMARY KEY REFERENCES passages(id) ON DELETE CASCADE,
    deflated   BLOB NOT NULL                 -- trace samples of the message format, deflated (RFC 1951)
);

CREATE TABLE tag_reads (
    lane      TEXT NOT NULL,
    time_ms   INTEGER NOT NULL,
    animal_id TEXT NOT NULL,
    PRIMARY KEY (lane, time_ms, animal_id)
) WITHOUT ROWID;

-- One line for each calving known; '' where the date is not.
CREATE TABLE herd (
    animal_id    TEXT NOT NULL,
    calving_date TEXT NOT NULL,
    parity       INTEGER,
    PRIMARY KEY (animal_id, calving_date)
) WITHOUT ROWID;

CREATE TABLE mobility_scores (
    date      TEXT NOT NULL,
    animal_id TEXT NOT NULL,
    score     INTEGER NOT NULL CHECK (score BETWEEN 0 AND 3),
    PRIMARY KEY (date, animal_id)
) WITHOUT ROWID;
