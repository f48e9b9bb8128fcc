-- What people call an animal; one without a row is known by her id alone. '' where nothing is known.
CREATE TABLE animals (
    animal_id TEXT PRIMARY KEY,
    number    TEXT NOT NULL,                 -- the farm's own number
    name      TEXT NOT NULL
) STRICT, WITHOUT ROWID;
CREATE INDEX animals_number ON animals(number);

-- Who wears a tag from a day on ('': always did), until another row gives it to another.
CREATE TABLE ear_tags (
    tag       TEXT NOT NULL,
    from_day  TEXT NOT NULL,
    animal_id TEXT NOT NULL,
    PRIMARY KEY (tag, from_day)
) STRICT, WITHOUT ROWID;

-- What people said of a cow on a day: looked, booked, milking, dry, sold, died, lent.
CREATE TABLE marks (
    date       TEXT NOT NULL,
    animal_id  TEXT NOT NULL,
    mark       TEXT NOT NULL,
    who        TEXT NOT NULL,
    entered_ms INTEGER NOT NULL,             -- UTC, milliseconds since the Unix epoch
    called     TEXT NOT NULL,
    PRIMARY KEY (date, animal_id, mark)
) STRICT, WITHOUT ROWID;
CREATE TRIGGER score_mark_added AFTER INSERT ON marks
BEGIN INSERT INTO score_touched VALUES (unixepoch(NEW.date) * 1000); END;
CREATE TRIGGER score_mark_gone AFTER DELETE ON marks
BEGIN INSERT INTO score_touched VALUES (unixepoch(OLD.date) * 1000); END;

-- Everything that is said of an animal keeps the word it came under, so that it finds her when she is named later.
ALTER TABLE passages ADD COLUMN called TEXT;
UPDATE passages SET called = animal_id;
ALTER TABLE mobility_scores ADD COLUMN called TEXT;
UPDATE mobility_scores SET called = animal_id;
ALTER TABLE herd ADD COLUMN called TEXT;
UPDATE herd SET called = animal_id;
ALTER TABLE cases ADD COLUMN called TEXT;
UPDATE cases SET called = animal_id;

-- Which animal a word means from a day on: a tag, or a number that only one animal has and that is no animal's id.
CREATE VIEW calls(called, from_day, animal_id) AS
    SELECT tag, from_day, animal_id FROM ear_tags
    UNION ALL
    SELECT number, '', min(animal_id) FROM animals
    WHERE number <> '' AND number NOT IN (SELECT animal_id FROM animals)
    GROUP BY number HAVING count(*) = 1;
