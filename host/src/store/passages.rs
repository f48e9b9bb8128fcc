//! Passages and their traces.

use crate::record::{AnimalId, Passage, checked};
use crate::store::{Meanings, SourceId, Store, StoreError};
use flate2::{Compress, Compression, FlushCompress, Status};
use jiff::{Timestamp, ToSpan, civil::Date, tz::TimeZone};
use miniz_oxide::inflate::decompress_to_vec;
use rusqlite::{OptionalExtension, Row, params};
use shared::analysis::{PassageSummary, Reason};

/// Version of the passage record written today: [`PassageSummary`] in postcard.
pub const RECORD_VERSION: u32 = 1;
/// Bytes that hold any passage record.
const RECORD_BYTES: usize = shared::limits::MAX_SUMMARY_BYTES;
/// Deflate level of traces: beyond it, time grows and size hardly falls (3 bytes in 14.9 MB up to level 6). Our choice.
const DEFLATE_LEVEL: u32 = 3;
/// Room that is made for a deflated trace at least, bytes.
const LEAST_ROOM: usize = 64;
/// Earlier passages looked at for an overlap.
const NEIGHBOURS: i64 = 64;

/// Which passages.
#[derive(Clone, Debug, Default)]
pub struct PassageFilter {
    /// Of this animal only.
    pub animal: Option<AnimalId>,
    /// From this local day on.
    pub from: Option<Date>,
    /// Up to and with this local day.
    pub to: Option<Date>,
}

/// A passage to be stored.
#[derive(Clone, Debug)]
pub struct NewPassage {
    /// The lane it was measured in.
    pub lane: String,
    /// First foot on, UTC.
    pub time: Timestamp,
    /// Who she was, where the source itself says so; tag reads do not change it.
    pub animal: Option<AnimalId>,
    /// How that is known.
    pub evidence: String,
    /// What the lane measured.
    pub summary: PassageSummary,
    /// Trace samples of the message format, not deflated.
    pub trace: Option<Vec<u8>>,
}

/// What became of a passage.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Insert {
    /// It is new.
    Added,
    /// It took the place of a part of itself that had been cut off.
    Completed,
    /// It was there before.
    Already,
}

/// A stored passage that may be the same as a new one.
struct Neighbour {
    id: i64,
    start_ms: i64,
    animal: Option<String>,
    record: Vec<u8>,
    version: u32,
    linked: bool,
}

/// The beginning of a query that knows the animals of the passages as `seen`: by leaps in their index, since reading all
/// passages for them would take seconds.
pub(super) const ANIMALS_SEEN: &str = "WITH RECURSIVE seen(id) AS (
    SELECT min(animal_id) FROM passages
    UNION ALL
    SELECT (SELECT min(animal_id) FROM passages WHERE animal_id > seen.id) FROM seen WHERE seen.id IS NOT NULL)";

impl Store {
    /// Stores a passage that was measured from readings. One of the same lane that overlaps it in time is the same
    /// passage: it stays, unless it had been cut off by the end of its readings and this one is whole.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn insert_measured(&self, new: &NewPassage, source: SourceId) -> Result<Insert, StoreError> {
        self.insert_unless(new, source, self.overlapping(new, true)?)
    }

    /// Stores a passage that a device delivered under a number of its own. As [`Store::insert_measured`], but one
    /// that a device delivered over a link is another passage even where the two overlap: the host's clock was set
    /// between them.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn insert_delivered(&self, new: &NewPassage, source: SourceId) -> Result<Insert, StoreError> {
        self.insert_unless(new, source, self.overlapping(new, false)?)
    }

    fn insert_unless(
        &self,
        new: &NewPassage,
        source: SourceId,
        same: Vec<Neighbour>,
    ) -> Result<Insert, StoreError> {
        let Some(first) = same.first() else {
            self.insert_row(new, source, self.who(new)?.as_deref())?;
            return Ok(Insert::Added);
        };
        let mut all_cut = true;
        for neighbour in &same {
            all_cut &=
                decode(neighbour.id, neighbour.version, &neighbour.record)?.quality.has(Reason::CutOff);
        }
        if new.summary.quality.has(Reason::CutOff) || !all_cut {
            return Ok(Insert::Already);
        }
        for neighbour in &same[1..] {
            self.connection.prepare_cached("DELETE FROM passages WHERE id = ?1")?.execute([neighbour.id])?;
        }
        let start = new.time.as_millisecond();
        self.connection
            .prepare_cached(
                "UPDATE passages SET start_ms = ?2, end_ms = ?3, record_version = ?4, record = ?5,
                        source_id = ?6 WHERE id = ?1",
            )?
            .execute(params![
                first.id,
                start,
                end_ms(new),
                RECORD_VERSION,
                encode(&checked(&new.summary))?,
                source.0
            ])?;
        self.put_trace(first.id, new.trace.as_deref())?;
        Ok(Insert::Completed)
    }

    /// Stores a passage of a table. It is the same as one of its lane with its start and either its animal, or no
    /// animal on one side, or the same measures; a name that was missing is filled in.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn insert_listed(&self, new: &NewPassage, source: SourceId) -> Result<Insert, StoreError> {
        self.insert_listed_meaning(new, source, &mut Meanings::default())
    }

    /// The same, for many rows of one transaction: what they call the animals is asked of the store once.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn insert_listed_meaning(
        &self,
        new: &NewPassage,
        source: SourceId,
        known: &mut Meanings,
    ) -> Result<Insert, StoreError> {
        let start = new.time.as_millisecond();
        let record = encode(&checked(&new.summary))?;
        let day = TimeZone::UTC.to_datetime(new.time).date();
        let meant = |animal: &AnimalId| self.animal_meant(known, &animal.0, day);
        let animal = new.animal.as_ref().map(meant).transpose()?;
        let animal = animal.as_deref();
        let same = self.beginning_at(&new.lane, start)?.into_iter().find(|old| {
            old.animal.as_deref() == animal
                || old.animal.is_none()
                || animal.is_none()
                || old.record == record
        });
        let Some(old) = same else {
            self.insert_encoded(new, source, animal, &record)?;
            return Ok(Insert::Added);
        };
        if old.animal.is_none() && animal.is_some() {
            self.connection
                .prepare_cached(
                    "UPDATE passages SET animal_id = ?2, animal_given = 1, evidence = ?3, called = ?4 WHERE id = ?1",
                )?
                .execute(params![old.id, animal, new.evidence, new.animal.as_ref().map(|animal| &animal.0)])?;
            return Ok(Insert::Completed);
        }
        Ok(Insert::Already)
    }

    /// Forgets the passages that a source brought.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn forget_passages(&self, source: SourceId) -> Result<(), StoreError> {
        self.connection.execute("DELETE FROM passages WHERE source_id = ?1", [source.0])?;
        Ok(())
    }

    /// The passages of a filter, in order of time.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn passages(&self, filter: &PassageFilter) -> Result<Vec<Passage>, StoreError> {
        self.select_passages(filter, "", |passage, _| Ok(passage))
    }

    /// The same, each with how it is known who it was.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn passages_with_evidence(
        &self,
        filter: &PassageFilter,
    ) -> Result<Vec<(Passage, String)>, StoreError> {
        self.select_passages(filter, ", evidence", |passage, row| Ok((passage, row.get(6)?)))
    }

    fn select_passages<T>(
        &self,
        filter: &PassageFilter,
        more: &str,
        make: impl Fn(Passage, &Row<'_>) -> Result<T, StoreError>,
    ) -> Result<Vec<T>, StoreError> {
        let mut days = Days::new(self.time_zone()?);
        let from = filter.from.map_or(i64::MIN, |date| days.begin_ms(date));
        let until = days.end_ms(filter.to);
        let condition = if filter.animal.is_some() { "animal_id = ?3" } else { "?3 IS NULL" };
        let mut statement = self.connection.prepare_cached(&format!(
            "SELECT id, lane, start_ms, animal_id, record_version, record{more} FROM passages
             WHERE start_ms >= ?1 AND start_ms < ?2 AND {condition} ORDER BY start_ms, id"
        ))?;
        let animal = filter.animal.as_ref().map(|animal| &animal.0);
        let mut rows = statement.query(params![from, until, animal])?;
        let mut found = Vec::new();
        while let Some(row) = rows.next()? {
            found.push(make(passage_of(row, &mut days)?, row)?);
        }
        Ok(found)
    }

    /// The first local day with a passage.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn first_day(&self) -> Result<Option<Date>, StoreError> {
        let mut days = Days::new(self.time_zone()?);
        let first: Option<i64> =
            self.connection.query_row("SELECT min(start_ms) FROM passages", [], |row| row.get(0))?;
        Ok(first.map(|ms| days.date(ms)))
    }

    /// The last local day with a passage, up to and with `until`.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn last_day(&self, until: Option<Date>) -> Result<Option<Date>, StoreError> {
        let mut days = Days::new(self.time_zone()?);
        let last: Option<i64> = self
            .connection
            .prepare_cached("SELECT max(start_ms) FROM passages WHERE start_ms < ?1")?
            .query_row([days.end_ms(until)], |row| row.get(0))?;
        Ok(last.map(|ms| days.date(ms)))
    }

    /// The last local day of each animal up to and with `until`.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn last_seen(&self, until: Date) -> Result<Vec<(AnimalId, Date)>, StoreError> {
        let mut days = Days::new(self.time_zone()?);
        let end = days.end_ms(Some(until));
        let mut statement = self.connection.prepare_cached(
            &(ANIMALS_SEEN.to_owned()
                + ", last(id, ms) AS (
                    SELECT id, (SELECT max(start_ms) FROM passages WHERE animal_id = seen.id AND start_ms < ?1)
                    FROM seen WHERE id IS NOT NULL)
                    SELECT id, ms FROM last WHERE ms IS NOT NULL"),
        )?;
        let rows = statement.query_map([end], |row| Ok((AnimalId(row.get(0)?), row.get(1)?)))?;
        rows.map(|row| row.map(|(animal, ms)| (animal, days.date(ms))))
            .collect::<Result<_, _>>()
            .map_err(Into::into)
    }

    /// Every lane with a passage, and when its last began.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn lanes_seen(&self) -> Result<Vec<(String, Timestamp)>, StoreError> {
        let mut statement = self
            .connection
            .prepare_cached("SELECT lane, max(start_ms) FROM passages GROUP BY lane ORDER BY lane")?;
        let rows = statement.query_map([], |row| {
            Ok((row.get(0)?, Timestamp::from_millisecond(row.get(1)?).unwrap_or_default()))
        })?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// How many passages there are.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn passage_count(&self) -> Result<u64, StoreError> {
        let count: i64 = self.connection.query_row("SELECT count(*) FROM passages", [], |row| row.get(0))?;
        Ok(u64::try_from(count).unwrap_or(0))
    }

    /// Trace samples of a passage in the message format, where they were kept.
    ///
    /// # Errors
    /// When the store cannot be read, or the trace is damaged.
    pub fn trace(&self, passage: i64) -> Result<Option<Vec<u8>>, StoreError> {
        let deflated: Option<Vec<u8>> = self
            .connection
            .prepare_cached("SELECT deflated FROM traces WHERE passage_id = ?1")?
            .query_row([passage], |row| row.get(0))
            .optional()?;
        let inflate = |bytes: Vec<u8>| {
            decompress_to_vec(&bytes)
                .map_err(|error| StoreError::Damaged(format!("trace of passage {passage}: {error}")))
        };
        deflated.map(inflate).transpose()
    }

    /// Keeps the trace samples of a passage, in the place of those it had.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn put_trace(&self, passage: i64, trace: Option<&[u8]>) -> Result<(), StoreError> {
        let Some(trace) = trace else { return Ok(()) };
        self.connection
            .prepare_cached("INSERT OR REPLACE INTO traces (passage_id, deflated) VALUES (?1, ?2)")?
            .execute(params![passage, self.deflated(trace)?])?;
        Ok(())
    }

    fn deflated(&self, trace: &[u8]) -> Result<Vec<u8>, StoreError> {
        let mut deflate = self.deflate.borrow_mut();
        let deflate = deflate.get_or_insert_with(|| Compress::new(Compression::new(DEFLATE_LEVEL), false));
        deflate.reset();
        let mut deflated = Vec::with_capacity(trace.len() / 2 + LEAST_ROOM);
        loop {
            let rest = usize::try_from(deflate.total_in()).ok().and_then(|done| trace.get(done..));
            let done = deflate.compress_vec(rest.unwrap_or_default(), &mut deflated, FlushCompress::Finish);
            match done.map_err(|error| StoreError::Damaged(format!("a trace to be deflated: {error}")))? {
                Status::StreamEnd => return Ok(deflated),
                Status::Ok | Status::BufError => deflated.reserve(deflated.len() + LEAST_ROOM),
            }
        }
    }

    fn insert_row(&self, new: &NewPassage, source: SourceId, animal: Option<&str>) -> Result<(), StoreError> {
        self.insert_encoded(new, source, animal, &encode(&checked(&new.summary))?)
    }

    fn insert_encoded(
        &self,
        new: &NewPassage,
        source: SourceId,
        animal: Option<&str>,
        record: &[u8],
    ) -> Result<(), StoreError> {
        self.connection
            .prepare_cached(
                "INSERT INTO passages (lane, start_ms, end_ms, animal_id, animal_given, evidence,
                        record_version, record, source_id, called)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10)",
            )?
            .execute(params![
                new.lane,
                new.time.as_millisecond(),
                end_ms(new),
                animal,
                new.animal.is_some(),
                new.evidence,
                RECORD_VERSION,
                record,
                source.0,
                new.animal.as_ref().map(|animal| &animal.0),
            ])?;
        self.put_trace(self.connection.last_insert_rowid(), new.trace.as_deref())
    }

    /// The animal that the source means, where it names one.
    fn who(&self, new: &NewPassage) -> Result<Option<String>, StoreError> {
        let Some(animal) = &new.animal else { return Ok(None) };
        let day = jiff::tz::TimeZone::UTC.to_datetime(new.time).date();
        self.animal_called(&animal.0, &day.to_string()).map(Some)
    }

    /// Stored passages of the lane that share a moment with `new`, in order of time; with those that came over a link,
    /// or without.
    fn overlapping(&self, new: &NewPassage, linked: bool) -> Result<Vec<Neighbour>, StoreError> {
        let mut found = self.neighbours(&new.lane, new.time.as_millisecond(), end_ms(new))?;
        found.retain(|neighbour| linked || !neighbour.linked);
        found.sort_by_key(|neighbour| neighbour.start_ms);
        Ok(found)
    }

    fn neighbours(&self, lane: &str, from_ms: i64, to_ms: i64) -> Result<Vec<Neighbour>, StoreError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT id, start_ms, animal_id, record, record_version,
                    EXISTS (SELECT 1 FROM sources WHERE sources.id = source_id AND kind = 'link')
             FROM (SELECT * FROM passages WHERE start_ms <= ?3 ORDER BY start_ms DESC LIMIT ?4)
             WHERE lane = ?1 AND end_ms >= ?2",
        )?;
        let rows = statement.query_map(params![lane, from_ms, to_ms, NEIGHBOURS], neighbour)?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    fn beginning_at(&self, lane: &str, start_ms: i64) -> Result<Vec<Neighbour>, StoreError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT id, start_ms, animal_id, record, record_version, 0 FROM passages
             WHERE start_ms = ?2 AND lane = ?1",
        )?;
        let rows = statement.query_map(params![lane, start_ms], neighbour)?;
        Ok(rows.collect::<Result<_, _>>()?)
    }
}

fn neighbour(row: &Row<'_>) -> rusqlite::Result<Neighbour> {
    Ok(Neighbour {
        id: row.get(0)?,
        start_ms: row.get(1)?,
        animal: row.get(2)?,
        record: row.get(3)?,
        version: row.get(4)?,
        linked: row.get(5)?,
    })
}

fn passage_of(row: &Row<'_>, days: &mut Days) -> Result<Passage, StoreError> {
    let (id, start_ms): (i64, i64) = (row.get(0)?, row.get(2)?);
    let record = row.get_ref(5)?.as_blob().map_err(rusqlite::Error::from)?;
    Ok(Passage {
        id,
        lane: row.get(1)?,
        time: Timestamp::from_millisecond(start_ms).unwrap_or_default(),
        date: days.date(start_ms),
        animal: row.get::<_, Option<String>>(3)?.map(AnimalId),
        summary: decode(id, row.get(4)?, record)?,
    })
}

fn end_ms(new: &NewPassage) -> i64 {
    let duration = i64::try_from(new.summary.duration.0).unwrap_or(i64::MAX);
    new.time.as_millisecond().saturating_add(duration)
}

fn encode(summary: &PassageSummary) -> Result<Vec<u8>, StoreError> {
    let mut buffer = [0; RECORD_BYTES];
    postcard::to_slice(summary, &mut buffer).map(|bytes| bytes.to_vec()).map_err(|error| StoreError::Record {
        id: 0,
        version: RECORD_VERSION,
        reason: error.to_string(),
    })
}

pub(super) fn decode(id: i64, version: u32, record: &[u8]) -> Result<PassageSummary, StoreError> {
    let wrong = |reason: String| StoreError::Record { id, version, reason };
    if version != RECORD_VERSION {
        return Err(wrong(format!("only version {RECORD_VERSION} is known")));
    }
    postcard::from_bytes(record).map_err(|error| wrong(error.to_string()))
}

/// Local days of rising times: asks the time zone once a day only.
struct Days {
    zone: TimeZone,
    known: Option<(Date, i64, i64)>,
}

impl Days {
    const fn new(zone: TimeZone) -> Self {
        Self { zone, known: None }
    }

    fn begin_ms(&self, date: Date) -> i64 {
        date.to_zoned_datetime(self.zone.clone()).map_or(i64::MIN, |zoned| zoned.timestamp().as_millisecond())
    }

    /// The moment after the last of a day; the end of time without one.
    fn end_ms(&self, date: Option<Date>) -> i64 {
        let next = date.and_then(|date| date.checked_add(1.day()).ok());
        next.map_or(i64::MAX, |next| self.begin_ms(next))
    }

    fn date(&mut self, ms: i64) -> Date {
        if let Some((date, begin, end)) = self.known
            && (begin..end).contains(&ms)
        {
            return date;
        }
        let date =
            Timestamp::from_millisecond(ms).unwrap_or_default().to_zoned_datetime(self.zone.clone()).date();
        let end = date.tomorrow().map_or(i64::MAX, |next| self.begin_ms(next));
        self.known = Some((date, self.begin_ms(date), end));
        date
    }
}
