//! A farm's part of a data set that an organisation keeps of many farms: Parquet files by farm and month.
//!
//! Every file is a pure function of the store and is put in place whole, so that a repeated or broken off export leaves
//! each passage in it once. The farm's own row is taken away before anything changes and written last: a farm without it
//! is not whole, and is left aside by those who read.

pub mod parquet;
pub mod passages;
pub mod tables;

use self::parquet::{Column, file};
use crate::record::passage_table::Cell;
use crate::store::{PassageFilter, Store, StoreError};
use ::parquet::file::reader::{FileReader, SerializedFileReader};
use crc::{CRC_64_XZ, Crc, Digest};
use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;
use std::fs::{self, File};
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use thiserror::Error;

/// Version of the layout and of every table's columns.
pub const SCHEMA: u32 = 1;
/// What says that a folder is a data set.
pub const MARKER: &str = "fourplate-dataset.json";
/// The file of a farm's own row.
const FARM: &str = "farms";

/// What stands in [`MARKER`].
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Marker {
    /// [`SCHEMA`] of the program that made it.
    pub schema: u32,
    /// Whose data set it is.
    pub organisation: String,
}

/// Why nothing was written, or not all.
#[derive(Debug, Error)]
pub enum DatasetError {
    /// The store cannot be read.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// A file cannot be read or written.
    #[error("{path}: {source}")]
    File {
        /// The file.
        path: PathBuf,
        /// Why.
        source: io::Error,
    },
    /// A file cannot be made.
    #[error("a Parquet file cannot be made: {0}")]
    Parquet(#[from] ::parquet::errors::ParquetError),
    /// Not a data set.
    #[error("{0} is no data set: say whose it is to be with --organisation")]
    NoDataset(PathBuf),
    /// Written by a newer program.
    #[error("the data set has schema {0}, this program knows {SCHEMA}: a newer fourplate is needed")]
    Newer(u32),
    /// It belongs to another organisation than was said.
    #[error("the data set is of {is:?}, not of {said:?}")]
    Organisation {
        /// Whose it is.
        is: String,
        /// Whose it was said to be.
        said: String,
    },
    /// The farm does not share with it.
    #[error("this farm does not share with {0:?}: `fourplate farm shares_with=...` says with whom it does")]
    NotShared(String),
    /// The farm has no code.
    #[error("the farm has no code for data sets: `fourplate farm farm_code=...` gives it one")]
    NoCode,
    /// Another store writes under this code.
    #[error("another store writes to the data set as farm {0:?}: one of the two needs another farm_code")]
    Twice(String),
}

/// What an export did.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Written {
    /// Whose data set it is.
    pub organisation: String,
    /// The farm's code.
    pub farm: String,
    /// Passages of the farm now in it.
    pub passages: u64,
    /// Files that were written because they were new or had changed.
    pub files_written: u32,
    /// Files that stood as they should.
    pub files_kept: u32,
    /// Files taken away: months that hold nothing any more.
    pub files_removed: u32,
}

fn at(path: &Path) -> impl FnOnce(io::Error) -> DatasetError + '_ {
    |source| DatasetError::File { path: path.to_owned(), source }
}

/// Reads whose data set a folder is; makes it one where `organisation` is given and the folder is empty or not there.
///
/// # Errors
/// When it is none, is of another organisation or of a newer schema, or cannot be read.
pub fn marker(root: &Path, organisation: Option<&str>) -> Result<Marker, DatasetError> {
    let path = root.join(MARKER);
    let marker = match fs::read(&path) {
        Ok(bytes) => serde_json::from_slice::<Marker>(&bytes)
            .map_err(|error| DatasetError::File { path: path.clone(), source: error.into() })?,
        Err(error) if error.kind() == io::ErrorKind::NotFound => {
            let empty = fs::read_dir(root).map_or(true, |mut entries| entries.next().is_none());
            let (Some(organisation), true) = (organisation, empty) else {
                return Err(DatasetError::NoDataset(root.to_owned()));
            };
            let marker = Marker { schema: SCHEMA, organisation: organisation.to_owned() };
            let text = serde_json::to_vec_pretty(&marker).map_err(io::Error::from).map_err(at(&path))?;
            put(&path, &text)?;
            marker
        }
        Err(error) => return Err(at(&path)(error)),
    };
    if marker.schema > SCHEMA {
        return Err(DatasetError::Newer(marker.schema));
    }
    match organisation {
        Some(said) if said != marker.organisation => {
            Err(DatasetError::Organisation { is: marker.organisation, said: said.to_owned() })
        }
        _ => Ok(marker),
    }
}

/// Puts a file in place whole, and flushed.
fn put(path: &Path, bytes: &[u8]) -> Result<(), DatasetError> {
    let folder = path.parent().unwrap_or(Path::new("."));
    fs::create_dir_all(folder).map_err(at(folder))?;
    let beside = path.with_extension("part");
    let written = File::create(&beside).and_then(|mut file| {
        file.write_all(bytes)?;
        file.sync_all()
    });
    written.and_then(|()| fs::rename(&beside, path)).map_err(at(path))
}

/// One farm's part of a data set.
struct Part<'a> {
    root: &'a Path,
    farm: &'a str,
    store: String,
    done: Written,
    /// Over the bytes of all its files, in their order.
    content: Digest<'static, u64>,
}

static CRC: Crc<u64> = Crc::<u64>::new(&CRC_64_XZ);

impl Part<'_> {
    fn table(&self, table: &str) -> PathBuf {
        self.root.join(table).join(format!("farm={}", self.farm))
    }

    fn own_row(&self) -> PathBuf {
        self.table(FARM).join(format!("{FARM}.parquet"))
    }

    fn remove(&self, path: &Path) -> Result<(), DatasetError> {
        match fs::remove_file(path) {
            Err(error) if error.kind() != io::ErrorKind::NotFound => Err(at(path)(error)),
            _ => Ok(()),
        }
    }

    fn bytes(&self, table: &str, columns: &[Column], rows: &[Vec<Cell>]) -> Result<Vec<u8>, DatasetError> {
        let notes = [
            ("fourplate:schema", SCHEMA.to_string()),
            ("fourplate:store", self.store.clone()),
            ("fourplate:organisation", self.done.organisation.clone()),
        ];
        Ok(file(table, columns, rows, &notes)?)
    }

    /// Brings a file to what it should be. Before the first change the farm's own row goes.
    fn bring(&mut self, path: &Path, bytes: &[u8]) -> Result<(), DatasetError> {
        self.content.update(bytes);
        if fs::read(path).is_ok_and(|there| there == bytes) {
            self.done.files_kept += 1;
            return Ok(());
        }
        self.remove(&self.own_row())?;
        put(path, bytes)?;
        self.done.files_written += 1;
        Ok(())
    }

    /// Takes away months that hold nothing any more.
    fn keep_only(&mut self, months: &BTreeSet<String>) -> Result<(), DatasetError> {
        let folder = self.table("passages");
        let Ok(entries) = fs::read_dir(&folder) else { return Ok(()) };
        for entry in entries {
            let entry = entry.map_err(at(&folder))?;
            if !months.contains(&*entry.file_name().to_string_lossy()) {
                self.remove(&self.own_row())?;
                fs::remove_dir_all(entry.path()).map_err(at(&entry.path()))?;
                self.done.files_removed += 1;
            }
        }
        Ok(())
    }
}

/// The identity of the store that wrote a farm's files, where any is there.
fn writer_of(path: &Path) -> Option<String> {
    let reader = SerializedFileReader::new(File::open(path).ok()?).ok()?;
    let notes = reader.metadata().file_metadata().key_value_metadata()?;
    notes.iter().find(|note| note.key == "fourplate:store")?.value.clone()
}

/// Writes and extends the farm's part of the data set in the folder.
///
/// # Errors
/// When the farm does not share with its organisation, has no code, another store writes under it, or a file fails.
pub fn write(store: &Store, root: &Path, organisation: Option<&str>) -> Result<Written, DatasetError> {
    let setting = |key: &str| store.setting(key).map(Option::unwrap_or_default);
    let (farm, shares) = (setting("farm_code")?, setting("shares_with")?);
    // Asked before anything is made, so that no folder is left behind by a farm that does not share.
    let shared = |with: &str| shares.split(',').any(|name| name.trim() == with);
    if let Some(said) = organisation.filter(|said| !shared(said)) {
        return Err(DatasetError::NotShared(said.to_owned()));
    }
    if farm.is_empty() {
        return Err(DatasetError::NoCode);
    }
    let marker = marker(root, organisation)?;
    if !shared(&marker.organisation) {
        return Err(DatasetError::NotShared(marker.organisation));
    }
    let done = Written { organisation: marker.organisation, farm: farm.clone(), ..Written::default() };
    let mut part = Part { root, farm: &farm, store: store.identity()?, done, content: CRC.digest() };
    let animals = part.table("animals").join("animals.parquet");
    for path in [part.own_row(), animals] {
        if writer_of(&path).is_some_and(|writer| writer != part.store) {
            return Err(DatasetError::Twice(farm));
        }
    }
    store.snapshot(|store| Ok(bring_all(store, &mut part)))??;
    Ok(part.done)
}

fn bring_all(store: &Store, part: &mut Part<'_>) -> Result<(), DatasetError> {
    let columns = tables::ANIMALS;
    let bytes = part.bytes("animals", &columns, &tables::animals(&store.herd()?))?;
    part.bring(&part.table("animals").join("animals.parquet"), &bytes)?;
    let bytes = part.bytes("scores", &tables::SCORES, &tables::scores(&store.mobility_scores()?))?;
    part.bring(&part.table("scores").join("scores.parquet"), &bytes)?;
    let bytes = part.bytes("work", &tables::WORK, &tables::work(&store.foot_work()?))?;
    part.bring(&part.table("work").join("work.parquet"), &bytes)?;
    let bytes = part.bytes("cases", &tables::CASES, &tables::cases(&store.cases(None)?))?;
    part.bring(&part.table("cases").join("cases.parquet"), &bytes)?;
    months(store, part)?;
    let bytes = part.bytes(FARM, &tables::FARM, &[own_row(store, part)?])?;
    part.bring(&part.own_row(), &bytes)
}

fn months(store: &Store, part: &mut Part<'_>) -> Result<(), DatasetError> {
    let columns = passages::columns();
    let mut months = BTreeSet::new();
    let mut next = store.first_day()?;
    let last = store.last_day(None)?;
    while let (Some(day), Some(last)) = (next, last) {
        let (from, to) = (day.first_of_month(), day.last_of_month());
        next = to.tomorrow().ok().filter(|day| *day <= last);
        let filter = PassageFilter { from: Some(from), to: Some(to), animal: None };
        let found = store.passages_with_evidence(&filter)?;
        if found.is_empty() {
            continue;
        }
        part.done.passages += found.len() as u64;
        let rows: Vec<_> = found.into_iter().map(passages::keyed_row).collect();
        let month = format!("month={}", from.strftime("%Y-%m"));
        let bytes = part.bytes("passages", &columns, &rows)?;
        part.bring(&part.table("passages").join(&month).join("passages.parquet"), &bytes)?;
        months.insert(month);
    }
    part.keep_only(&months)
}

fn own_row(store: &Store, part: &Part<'_>) -> Result<Vec<Cell>, DatasetError> {
    let setting = |key: &str| store.setting(key).map(Option::unwrap_or_default);
    let text = |text: String| if text.is_empty() { Cell::Empty } else { Cell::Text(text) };
    let settled = setting("plates_settled")?.parse::<Date>().map_or(Cell::Empty, Cell::Day);
    let looks = setting("needless_looks")?.parse().map_or(Cell::Empty, Cell::Exact);
    let mut row = vec![
        Cell::Text(part.store.clone()),
        Cell::Text(setting("time_zone")?),
        looks,
        settled,
        text(setting("model_prior")?),
        Cell::Long(i64::try_from(part.done.passages).unwrap_or(i64::MAX)),
    ];
    // What the farm has set bears on its score as its records do.
    let mut content = part.content.clone();
    row.iter().for_each(|cell| content.update(format!("{cell}\n").as_bytes()));
    row.push(Cell::Text(format!("{:016x}", content.finalize())));
    Ok(row)
}

/// Takes the farm's part out of the data set.
///
/// # Errors
/// When the folder is no data set, the farm has no code, the part is another store's, or a file fails.
pub fn leave(store: &Store, root: &Path) -> Result<Written, DatasetError> {
    let marker = marker(root, None)?;
    let farm = store.setting("farm_code")?.filter(|code| !code.is_empty()).ok_or(DatasetError::NoCode)?;
    let done = Written { organisation: marker.organisation, farm: farm.clone(), ..Written::default() };
    let mut part = Part { root, farm: &farm, store: store.identity()?, done, content: CRC.digest() };
    let animals = part.table("animals").join("animals.parquet");
    if writer_of(&animals).is_some_and(|writer| writer != part.store) {
        return Err(DatasetError::Twice(farm));
    }
    // The farm's own row first: what is broken off here is no whole farm any more. The animals last: they say whose it is.
    for table in [FARM, "passages", "cases", "work", "scores", "animals"] {
        let folder = part.table(table);
        match fs::remove_dir_all(&folder) {
            Ok(()) => part.done.files_removed += 1,
            Err(error) if error.kind() == io::ErrorKind::NotFound => {}
            Err(error) => return Err(at(&folder)(error)),
        }
    }
    Ok(part.done)
}

#[cfg(test)]
mod tests;
