//! Tag reads, and who each passage was.

use crate::arithmetic::statistics::median;
use crate::record::AnimalId;
use crate::record::finding::LaneRemark;
use crate::store::passages::decode;
use crate::store::{Store, StoreError};
use jiff::Timestamp;
use rusqlite::params;
use shared::analysis::Standing;
use shared::plate::Pair;
use std::collections::BTreeMap;

/// An ear tag seen at a lane.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TagRead {
    /// When, UTC.
    pub time: Timestamp,
    /// Whose.
    pub animal: AnimalId,
}

/// A passage that tag reads may name.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Candidate {
    /// The passage.
    pub id: i64,
    /// First foot on, UTC, ms since the Unix epoch.
    pub start_ms: i64,
    /// Last foot off, the same.
    pub end_ms: i64,
    /// What was measured of her.
    pub pattern: Pattern,
}

/// What tells one animal from another on the plates: the logarithm of her weight in kg, and while standing the front share,
/// % of her weight, and right less left of the front and of the rear pair, points of the pair.
pub type Pattern = [Option<f64>; 4];

/// Who a passage was, and how that is known.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Assignment {
    /// The passage.
    pub passage: i64,
    /// Who.
    pub animal: Option<AnimalId>,
    /// How that is known, in words.
    pub evidence: String,
}

/// A reader's clock that did not fit its lane's in a period.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ReaderOffset {
    /// Ahead of the lane, s, and corrected; `None` where no correction fits, and nobody was named.
    pub seconds: Option<f64>,
}

impl ReaderOffset {
    /// What is said of it.
    #[must_use]
    pub fn remark(self) -> LaneRemark {
        match self.seconds {
            None => LaneRemark::ReaderUnsure {},
            Some(by_s) if by_s < 0.0 => LaneRemark::ReaderBehind { by_s: -by_s },
            Some(by_s) => LaneRemark::ReaderAhead { by_s },
        }
    }
}

/// Passages of hers that say what is usual, and how few say nothing. Our choice: a week, and two days.
const KNOWN_LAST: i64 = 15;
const KNOWN_FEWEST: usize = 4;
/// What was longer ago says nothing. Our choice: a tag on another cow that weighs otherwise names nobody so long.
const KNOWN_DAYS: i64 = 21;

/// What a passage's record shows of her, where the passage can be trusted.
fn pattern(id: i64, version: u32, record: &[u8]) -> Result<Pattern, StoreError> {
    let summary = decode(id, version, record)?;
    if !summary.quality.trusted() {
        return Ok([None; 4]);
    }
    let kg = summary.body_weight.map(|weight| f64::from(weight.value)).filter(|kg| *kg > 0.0);
    let of = |figure: fn(&Standing) -> Option<f32>| {
        let value = summary.standing.as_ref().and_then(figure).map(f64::from);
        value.filter(|value| value.is_finite())
    };
    // Half the symmetry index is the split in points of the pair.
    Ok([
        kg.map(f64::ln),
        of(|standing| Some(standing.front_pct())),
        of(|standing| standing.si_pct(Pair::Front)).map(|si| si / 2.0),
        of(|standing| standing.si_pct(Pair::Rear)).map(|si| si / 2.0),
    ])
}

impl Store {
    /// Forgets how far a reader's clock was off in the periods that begin from `from_ms` to before `to_ms`, and gives
    /// the begins of those that hold a passage of the lane, all in ms since the Unix epoch.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn open_periods(
        &self,
        lane: &str,
        from_ms: i64,
        to_ms: i64,
        period_ms: i64,
    ) -> Result<Vec<i64>, StoreError> {
        self.connection
            .prepare_cached(
                "DELETE FROM reader_offsets WHERE lane = ?1 AND begin_ms >= ?2 AND begin_ms < ?3",
            )?
            .execute(params![lane, from_ms, to_ms])?;
        let mut statement = self.connection.prepare_cached(
            "SELECT DISTINCT start_ms / ?4 * ?4 FROM passages WHERE lane = ?1 AND start_ms >= ?2 AND start_ms < ?3
             ORDER BY 1",
        )?;
        let rows = statement.query_map(params![lane, from_ms.max(0), to_ms, period_ms], |row| row.get(0))?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// Keeps how far a reader's clock was off in a period.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn put_reader_offset(
        &self,
        lane: &str,
        begin_ms: i64,
        offset: ReaderOffset,
    ) -> Result<(), StoreError> {
        self.connection
            .prepare_cached("INSERT INTO reader_offsets (lane, begin_ms, seconds) VALUES (?1, ?2, ?3)")?
            .execute(params![lane, begin_ms, offset.seconds])?;
        Ok(())
    }

    /// What a reader's clock was last off, by lane, in the periods that begin from `from` to before `to`.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn reader_offsets(
        &self,
        from: Timestamp,
        to: Timestamp,
    ) -> Result<BTreeMap<String, ReaderOffset>, StoreError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT lane, seconds FROM reader_offsets WHERE begin_ms >= ?1 AND begin_ms < ?2 ORDER BY begin_ms",
        )?;
        let rows = statement.query_map(params![from.as_millisecond(), to.as_millisecond()], |row| {
            Ok((row.get(0)?, ReaderOffset { seconds: row.get(1)? }))
        })?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// Adds a tag read; says whether it is new.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn insert_tag_read(&self, lane: &str, read: &TagRead) -> Result<bool, StoreError> {
        let added = self
            .connection
            .prepare_cached("INSERT OR IGNORE INTO tag_reads (lane, time_ms, animal_id) VALUES (?1, ?2, ?3)")?
            .execute(params![lane, read.time.as_millisecond(), read.animal.0])?;
        if added > 0 {
            self.note_brought("tag", &[lane, &read.time.as_millisecond().to_string(), &read.animal.0], None)?;
        }
        Ok(added > 0)
    }

    /// Whether the same tag was read at the lane within `within_ms` before.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn just_read(&self, lane: &str, read: &TagRead, within_ms: i64) -> Result<bool, StoreError> {
        let time = read.time.as_millisecond();
        let mut statement = self.connection.prepare_cached(
            "SELECT EXISTS (SELECT 1 FROM tag_reads
             WHERE lane = ?1 AND time_ms >= ?2 AND time_ms < ?3 AND animal_id = ?4)",
        )?;
        Ok(statement.query_row(params![lane, time - within_ms, time, read.animal.0], |row| row.get(0))?)
    }

    /// The tag reads of a lane from `from_ms` to `to_ms`, both included, in order of time.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn tag_reads(&self, lane: &str, from_ms: i64, to_ms: i64) -> Result<Vec<TagRead>, StoreError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT time_ms, animal_id FROM tag_reads WHERE lane = ?1 AND time_ms BETWEEN ?2 AND ?3
             ORDER BY time_ms, animal_id",
        )?;
        let rows = statement.query_map(params![lane, from_ms, to_ms], |row| {
            Ok(TagRead {
                time: Timestamp::from_millisecond(row.get(0)?).unwrap_or_default(),
                animal: AnimalId(row.get(1)?),
            })
        })?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// The passages of a lane that begin from `from_ms` to `to_ms`, both included, and that no source has named.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn unnamed_passages(
        &self,
        lane: &str,
        from_ms: i64,
        to_ms: i64,
    ) -> Result<Vec<Candidate>, StoreError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT id, start_ms, end_ms, record_version, record FROM passages
             WHERE lane = ?1 AND animal_given = 0 AND start_ms BETWEEN ?2 AND ?3 ORDER BY start_ms, id",
        )?;
        let mut rows = statement.query(params![lane, from_ms, to_ms])?;
        let mut all = Vec::new();
        while let Some(row) = rows.next()? {
            let record = row.get_ref(4)?.as_blob().map_err(rusqlite::Error::from)?;
            let pattern = pattern(row.get(0)?, row.get(3)?, record)?;
            all.push(Candidate { id: row.get(0)?, start_ms: row.get(1)?, end_ms: row.get(2)?, pattern });
        }
        Ok(all)
    }

    /// What the wearer of a tag usually showed in her last passages of [`KNOWN_DAYS`] before `before_ms`: medians, each
    /// where there are [`KNOWN_FEWEST`].
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn usual_pattern(&self, called: &str, before_ms: i64) -> Result<Pattern, StoreError> {
        let day = Timestamp::from_millisecond(before_ms).unwrap_or_default().strftime("%Y-%m-%d").to_string();
        let animal = self.animal_called(called, &day)?;
        let from_ms = before_ms - KNOWN_DAYS * 24 * 3600 * 1000;
        let mut statement = self.connection.prepare_cached(
            "SELECT id, record_version, record FROM passages
             WHERE animal_id = ?1 AND start_ms >= ?2 AND start_ms < ?3 ORDER BY start_ms DESC, id DESC LIMIT ?4",
        )?;
        let mut rows = statement.query(params![animal, from_ms, before_ms, KNOWN_LAST])?;
        let mut seen: [Vec<f64>; 4] = Default::default();
        while let Some(row) = rows.next()? {
            let record = row.get_ref(2)?.as_blob().map_err(rusqlite::Error::from)?;
            for (values, value) in seen.iter_mut().zip(pattern(row.get(0)?, row.get(1)?, record)?) {
                values.extend(value);
            }
        }
        Ok(seen.map(|mut values| (values.len() >= KNOWN_FEWEST).then(|| median(&mut values))))
    }

    /// Writes down who a passage was; says whether that changed anything.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn assign(&self, assignment: &Assignment) -> Result<bool, StoreError> {
        let called = assignment.animal.as_ref().map(|animal| animal.0.as_str());
        let (was, evidence, day): (Option<String>, String, String) = self
            .connection
            .prepare_cached(
                "SELECT called, evidence, date(start_ms / 1000, 'unixepoch') FROM passages WHERE id = ?1",
            )?
            .query_row([assignment.passage], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))?;
        if was.as_deref() == called && evidence == assignment.evidence {
            return Ok(false);
        }
        let animal = called.map(|called| self.animal_called(called, &day)).transpose()?;
        let changed = self
            .connection
            .prepare_cached(
                "UPDATE passages SET called = ?2, animal_id = ?3, evidence = ?4
                 WHERE id = ?1 AND animal_given = 0",
            )?
            .execute(params![assignment.passage, called, animal, assignment.evidence])?;
        Ok(changed > 0)
    }
}
