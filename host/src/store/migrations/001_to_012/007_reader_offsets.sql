-- How far a tag reader's clock was off its lane's, by periods of six hours; a period without a row had none.
CREATE TABLE reader_offsets (
    lane TEXT NOT NULL,
    begin_ms INTEGER NOT NULL,
    -- Ahead, s; NULL where no correction fits.
    seconds REAL,
    PRIMARY KEY (lane, begin_ms)
) STRICT, WITHOUT ROWID;
