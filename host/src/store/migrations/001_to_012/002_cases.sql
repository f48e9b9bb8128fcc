-- What was found and done on one foot at one visit. Values as the case's fields write them; '' where nothing is known.
CREATE TABLE cases (
    id                  INTEGER PRIMARY KEY,
    date                TEXT NOT NULL,
    animal_id           TEXT NOT NULL CHECK (animal_id <> ''),
    leg                 TEXT NOT NULL,
    claw                TEXT NOT NULL,
    lesion              TEXT NOT NULL,
    zone                TEXT NOT NULL,
    treatment           TEXT NOT NULL,
    block_claw          TEXT NOT NULL,
    note                TEXT NOT NULL,
    dd_stage            TEXT NOT NULL,
    severity            TEXT NOT NULL,
    block_material      TEXT NOT NULL,
    block_height_mm     TEXT NOT NULL,
    block_due           TEXT NOT NULL,
    block_off           TEXT NOT NULL,
    pain_relief         TEXT NOT NULL,
    prescribed_by       TEXT NOT NULL,
    milk_withdrawal_end TEXT NOT NULL,
    meat_withdrawal_end TEXT NOT NULL,
    photo               TEXT NOT NULL,
    recheck             TEXT NOT NULL,
    who                 TEXT NOT NULL,
    other               TEXT NOT NULL,
    entered_ms          INTEGER NOT NULL,    -- UTC, milliseconds since the Unix epoch
    as_entered          TEXT NOT NULL UNIQUE, -- the first entry, all fields: the same line twice is one case
    withdrawn           TEXT                 -- why it no longer counts
);
CREATE INDEX cases_animal ON cases(animal_id, date);

CREATE TABLE follow_ups (
    id         INTEGER PRIMARY KEY,
    case_id    INTEGER NOT NULL REFERENCES cases(id),
    date       TEXT NOT NULL,
    block      TEXT NOT NULL,
    height_mm  REAL,
    course     TEXT NOT NULL,
    note       TEXT NOT NULL,
    who        TEXT NOT NULL,
    entered_ms INTEGER NOT NULL
);
CREATE INDEX follow_ups_case ON follow_ups(case_id, date);

CREATE TABLE corrections (
    id      INTEGER PRIMARY KEY,
    case_id INTEGER NOT NULL REFERENCES cases(id),
    at_ms   INTEGER NOT NULL,
    who     TEXT NOT NULL,
    field   TEXT NOT NULL,
    was     TEXT NOT NULL,
    became  TEXT NOT NULL
);

CREATE TRIGGER cases_are_kept BEFORE DELETE ON cases
BEGIN SELECT RAISE(ABORT, 'cases are kept: withdraw it instead'); END;
CREATE TRIGGER follow_ups_are_kept BEFORE DELETE ON follow_ups
BEGIN SELECT RAISE(ABORT, 'follow-ups are kept'); END;
CREATE TRIGGER corrections_are_kept BEFORE DELETE ON corrections
BEGIN SELECT RAISE(ABORT, 'the history is kept'); END;

-- What the farm's own cases taught, so that one comparison need not read them all.
CREATE TABLE learned (
    key   TEXT PRIMARY KEY,                  -- block | half_time | half_time:LESION
    mean  REAL NOT NULL,
    sd    REAL NOT NULL,
    cases INTEGER NOT NULL
) WITHOUT ROWID;
