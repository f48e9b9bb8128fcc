-- The score's rows as last computed, so that a list need not score a year again. All of this can be thrown away: it is
-- computed anew from the other tables. The triggers below note every change of what the score rests on.
CREATE TABLE score_state (
    one      INTEGER PRIMARY KEY CHECK (one = 1),
    change   INTEGER NOT NULL,               -- counts the changes of everything the score rests on
    dirty_ms INTEGER,                        -- earliest moment touched since the rows were kept, UTC; NULL: none
    model    INTEGER NOT NULL,               -- checksum of the model that made the rows
    kept_to  INTEGER                         -- last day of the rows, days since 1970-01-01
);
INSERT INTO score_state (one, change, model) VALUES (1, 0, 0);

CREATE TABLE score_days (
    day       INTEGER NOT NULL,              -- local day, days since 1970-01-01
    place     INTEGER NOT NULL,              -- place of the row in its day
    animal_id TEXT NOT NULL,
    row       BLOB NOT NULL,                 -- the row, in postcard
    PRIMARY KEY (day, place)
) WITHOUT ROWID;
CREATE INDEX score_days_animal ON score_days(animal_id, day);

CREATE TABLE score_lanes (
    day   INTEGER NOT NULL,
    place INTEGER NOT NULL,
    row   BLOB NOT NULL,
    PRIMARY KEY (day, place)
) WITHOUT ROWID;

-- What the score carries from one day to the next, at the end of a few days: new passages go on from there.
CREATE TABLE score_checkpoints (
    day   INTEGER PRIMARY KEY,
    state BLOB NOT NULL
);

-- Told the moment from which on days are touched, UTC; NULL: all of them.
CREATE VIEW score_touched(ms) AS SELECT dirty_ms FROM score_state;
CREATE TRIGGER score_touch INSTEAD OF INSERT ON score_touched
BEGIN UPDATE score_state SET change = change + 1,
    dirty_ms = min(ifnull(dirty_ms, 9223372036854775807), ifnull(NEW.ms, -9223372036854775808)); END;

CREATE TRIGGER score_passage_added AFTER INSERT ON passages
BEGIN INSERT INTO score_touched VALUES (NEW.start_ms); END;
CREATE TRIGGER score_passage_gone AFTER DELETE ON passages
BEGIN INSERT INTO score_touched VALUES (OLD.start_ms); END;
CREATE TRIGGER score_passage_changed AFTER UPDATE OF lane, start_ms, animal_id, record_version, record ON passages
BEGIN INSERT INTO score_touched VALUES (min(OLD.start_ms, NEW.start_ms)); END;

CREATE TRIGGER score_given_added AFTER INSERT ON mobility_scores
BEGIN INSERT INTO score_touched VALUES (unixepoch(NEW.date) * 1000); END;
CREATE TRIGGER score_given_gone AFTER DELETE ON mobility_scores
BEGIN INSERT INTO score_touched VALUES (unixepoch(OLD.date) * 1000); END;
CREATE TRIGGER score_given_changed AFTER UPDATE ON mobility_scores
BEGIN INSERT INTO score_touched VALUES (min(unixepoch(OLD.date) * 1000, unixepoch(NEW.date) * 1000)); END;
CREATE TRIGGER score_case_added AFTER INSERT ON cases
BEGIN INSERT INTO score_touched VALUES (unixepoch(NEW.date) * 1000); END;
CREATE TRIGGER score_case_gone AFTER DELETE ON cases
BEGIN INSERT INTO score_touched VALUES (unixepoch(OLD.date) * 1000); END;
CREATE TRIGGER score_case_changed AFTER UPDATE ON cases
BEGIN INSERT INTO score_touched VALUES (min(unixepoch(OLD.date) * 1000, unixepoch(NEW.date) * 1000)); END;
CREATE TRIGGER score_look_added AFTER INSERT ON follow_ups
BEGIN INSERT INTO score_touched VALUES (unixepoch(NEW.date) * 1000); END;
CREATE TRIGGER score_look_gone AFTER DELETE ON follow_ups
BEGIN INSERT INTO score_touched VALUES (unixepoch(OLD.date) * 1000); END;
CREATE TRIGGER score_look_changed AFTER UPDATE ON follow_ups
BEGIN INSERT INTO score_touched VALUES (min(unixepoch(OLD.date) * 1000, unixepoch(NEW.date) * 1000)); END;
CREATE TRIGGER score_correction_added AFTER INSERT ON corrections
BEGIN INSERT INTO score_touched VALUES (NEW.at_ms); END;

-- The register and the settings have no days: a change of them touches all.
CREATE TRIGGER score_herd_added AFTER INSERT ON herd
BEGIN INSERT INTO score_touched VALUES (NULL); END;
CREATE TRIGGER score_herd_gone AFTER DELETE ON herd
BEGIN INSERT INTO score_touched VALUES (NULL); END;
CREATE TRIGGER score_herd_changed AFTER UPDATE ON herd
BEGIN INSERT INTO score_touched VALUES (NULL); END;
CREATE TRIGGER score_setting_added AFTER INSERT ON settings
BEGIN INSERT INTO score_touched VALUES (NULL); END;
CREATE TRIGGER score_setting_gone AFTER DELETE ON settings
BEGIN INSERT INTO score_touched VALUES (NULL); END;
CREATE TRIGGER score_setting_changed AFTER UPDATE ON settings
BEGIN INSERT INTO score_touched VALUES (NULL); END;
