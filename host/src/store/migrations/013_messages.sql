-- What is to be told to people without their looking: one row each time something came to be so.
CREATE TABLE messages (
    id      INTEGER PRIMARY KEY,
    kind    TEXT NOT NULL,                   -- urgent, lane, withdrawal_over
    subject TEXT NOT NULL,                   -- which of its kind
    text    TEXT NOT NULL,
    made_ms INTEGER NOT NULL,                -- UTC, ms since the Unix epoch
    told_ms INTEGER,                         -- NULL: waits
    over_ms INTEGER                          -- no longer so since; NULL: still so
) STRICT;
CREATE UNIQUE INDEX messages_open ON messages(kind, subject) WHERE over_ms IS NULL;
CREATE INDEX messages_waiting ON messages(id) WHERE told_ms IS NULL;

-- How the telling goes: tries of what waits now, and how often something was told on a day.
CREATE TABLE telling (
    one      INTEGER PRIMARY KEY CHECK (one = 1),
    tries    INTEGER NOT NULL,               -- failures in a row
    next_ms  INTEGER NOT NULL,               -- not before
    busy_ms  INTEGER,                        -- a program is at it since
    day      TEXT NOT NULL,                  -- the farm's day of the count
    times    INTEGER NOT NULL
) STRICT;
INSERT INTO telling (one, tries, next_ms, day, times) VALUES (1, 0, 0, '', 0);
