//! A data set looked over before it is used: which farms are whole, and why the others are left aside.

use crate::place::{Object, Place};
use anyhow::{Context, bail};
use datafusion::arrow::array::AsArray;
use datafusion::arrow::datatypes::Int64Type;
use futures_util::{StreamExt, TryStreamExt, stream};
use host::report::exchange::dataset::{MARKER, Marker, SCHEMA};
use object_store::ObjectStoreExt;
use parquet::arrow::arrow_reader::ParquetRecordBatchReaderBuilder;
use parquet::file::metadata::{ParquetMetaData, ParquetMetaDataReader};
use std::collections::{BTreeMap, BTreeSet};
use thiserror::Error;

/// Files whose ends are read at a time: our choice.
pub const READ_AT_A_TIME: usize = 16;
/// Bytes read from the end of a file: enough for what stands there in a month of a large farm. Our choice.
const END_BYTES: u64 = 64 * 1024;

/// A farm that is whole.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Farm {
    /// Its code.
    pub code: String,
    /// Identity of the store it came from.
    pub store: String,
    /// Checksum of all its files.
    pub content: String,
    /// Its passages.
    pub passages: u64,
    /// Bytes of its files.
    pub bytes: u64,
    /// Tables of which it has rows.
    pub filled: BTreeSet<String>,
}

/// Why a farm is left aside.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum Aside {
    /// An export is under way or was broken off.
    #[error(
        "is not whole: its export is under way or was broken off; `fourplate export dataset` there mends it"
    )]
    NotWhole,
    /// A file is damaged.
    #[error("{0} is torn or damaged; `fourplate export dataset` there writes it anew")]
    Torn(String),
    /// Written by a newer program.
    #[error("was written with schema {0}, this program knows {SCHEMA}: a newer fleet is needed")]
    Newer(u32),
    /// Files of two stores under one code.
    #[error("has files of two stores")]
    TwoStores,
    /// One store under two codes.
    #[error("comes from the store of farm {0} too: which of the two it is cannot be told")]
    Twice(String),
    /// Not shared with this organisation.
    #[error("was shared with {0:?}, not with this data set's organisation")]
    OtherOrganisation(String),
}

/// A data set.
#[derive(Clone, Debug)]
pub struct Dataset {
    /// Where it lies.
    pub place: Place,
    /// Whose it is.
    pub marker: Marker,
    /// Farms that are whole, by code.
    pub farms: Vec<Farm>,
    /// The others, and why.
    pub aside: Vec<(String, Aside)>,
}

/// Of one file.
struct End {
    table: String,
    schema: u32,
    store: String,
    organisation: String,
    rows: u64,
    bytes: u64,
}

impl Dataset {
    /// Looks a data set over.
    ///
    /// # Errors
    /// When the place is none, is of a newer schema, or cannot be read.
    pub async fn open(place: Place) -> anyhow::Result<Self> {
        let Some(bytes) = place.read(MARKER).await? else { bail!("{} is no data set", place.url) };
        let marker: Marker = serde_json::from_slice(&bytes).context(MARKER)?;
        if marker.schema > SCHEMA {
            bail!(
                "the data set has schema {}, this program knows {SCHEMA}: a newer fleet is needed",
                marker.schema
            );
        }
        let mut files: BTreeMap<String, Vec<Object>> = BTreeMap::new();
        for object in place.list("").await?.into_iter().filter(|object| object.name.ends_with(".parquet")) {
            if let Some(code) = object.name.split('/').nth(1).and_then(|part| part.strip_prefix("farm=")) {
                files.entry(code.to_owned()).or_default().push(object);
            }
        }
        let looked = stream::iter(files.iter().map(|(code, files)| look(&place, code, files)))
            .buffered(READ_AT_A_TIME)
            .try_collect::<Vec<_>>()
            .await?;
        let (mut farms, mut aside) = (Vec::new(), Vec::new());
        for (code, found) in files.keys().zip(looked) {
            match found.and_then(|farm| shared(farm, &marker.organisation)) {
                Ok(farm) => farms.push(farm),
                Err(why) => aside.push((code.clone(), why)),
            }
        }
        let farms = part_twins(farms, &mut aside);
        Ok(Self { place, marker, farms, aside })
    }
}

/// A farm and the organisation its files say it was shared with.
type Looked = (Farm, String);

fn shared((farm, with): Looked, organisation: &str) -> Result<Farm, Aside> {
    if with == organisation { Ok(farm) } else { Err(Aside::OtherOrganisation(with)) }
}

/// One store under two codes: neither is used.
fn part_twins(farms: Vec<Farm>, aside: &mut Vec<(String, Aside)>) -> Vec<Farm> {
    let mut by_store: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for farm in &farms {
        by_store.entry(farm.store.clone()).or_default().push(farm.code.clone());
    }
    farms
        .into_iter()
        .filter(|farm| {
            let other = by_store[&farm.store].iter().find(|code| **code != farm.code);
            aside.extend(other.map(|other| (farm.code.clone(), Aside::Twice(other.clone()))));
            other.is_none()
        })
        .collect()
}

async fn look(place: &Place, code: &str, files: &[Object]) -> anyhow::Result<Result<Looked, Aside>> {
    let mut ends = Vec::new();
    for file in files {
        match end(place, file).await? {
            Some(end) => ends.push(end),
            None => return Ok(Err(Aside::Torn(file.name.clone()))),
        }
    }
    if let Some(newer) = ends.iter().find(|end| end.schema > SCHEMA) {
        return Ok(Err(Aside::Newer(newer.schema)));
    }
    let stores: BTreeSet<&str> = ends.iter().map(|end| end.store.as_str()).collect();
    if stores.len() > 1 {
        return Ok(Err(Aside::TwoStores));
    }
    let with = |end: &End| end.organisation.clone();
    let organisation = ends.first().map(with).unwrap_or_default();
    if let Some(other) = ends.iter().find(|end| end.organisation != organisation) {
        return Ok(Err(Aside::OtherOrganisation(with(other))));
    }
    let own = format!("farms/farm={code}/farms.parquet");
    let Some(bytes) = place.read(&own).await? else { return Ok(Err(Aside::NotWhole)) };
    let Some((passages, content)) = own_row(bytes) else { return Ok(Err(Aside::Torn(own))) };
    let rows: u64 = ends.iter().filter(|end| end.table == "passages").map(|end| end.rows).sum();
    let tables: BTreeSet<&str> = ends.iter().map(|end| end.table.as_str()).collect();
    if rows != passages || !["animals", "cases", "scores", "work"].iter().all(|table| tables.contains(table))
    {
        return Ok(Err(Aside::NotWhole));
    }
    let farm = Farm {
        code: code.to_owned(),
        store: ends[0].store.clone(),
        content,
        passages,
        bytes: ends.iter().map(|end| end.bytes).sum(),
        filled: ends.iter().filter(|end| end.rows > 0).map(|end| end.table.clone()).collect(),
    };
    Ok(Ok((farm, organisation)))
}

/// What stands at the end of a file; `None` where it is damaged.
async fn end(place: &Place, file: &Object) -> anyhow::Result<Option<End>> {
    let size = file.meta.size;
    let Some(metadata) = metadata(place, file).await? else { return Ok(None) };
    let note = |key: &str| note_in(&metadata, key).unwrap_or_default();
    let Ok(schema) = note("fourplate:schema").parse() else { return Ok(None) };
    Ok(Some(End {
        table: file.name.split('/').next().unwrap_or_default().to_owned(),
        schema,
        store: note("fourplate:store"),
        organisation: note("fourplate:organisation"),
        rows: u64::try_from(metadata.file_metadata().num_rows()).unwrap_or_default(),
        bytes: size,
    }))
}

/// A note that stands in a file; `None` where the file is damaged or has no such note.
///
/// # Errors
/// When the place cannot be read.
pub async fn note(place: &Place, file: &Object, key: &str) -> anyhow::Result<Option<String>> {
    Ok(metadata(place, file).await?.and_then(|metadata| note_in(&metadata, key)))
}

fn note_in(metadata: &ParquetMetaData, key: &str) -> Option<String> {
    let notes = metadata.file_metadata().key_value_metadata()?;
    notes.iter().find(|note| note.key == key)?.value.clone()
}

async fn metadata(place: &Place, file: &Object) -> anyhow::Result<Option<ParquetMetaData>> {
    let size = file.meta.size;
    if size == 0 {
        return Ok(None);
    }
    let mut wanted = END_BYTES.min(size);
    loop {
        let end = place.store.get_range(&file.meta.location, size - wanted..size).await?;
        let mut reader = ParquetMetaDataReader::new();
        match reader.try_parse_sized(&end, size) {
            Ok(()) => return Ok(reader.finish().ok()),
            Err(parquet::errors::ParquetError::NeedMoreData(more))
                if (more as u64) <= size && more as u64 > wanted =>
            {
                wanted = more as u64;
            }
            Err(_) => return Ok(None),
        }
    }
}

/// Passages and content as the farm's own row has them.
fn own_row(bytes: Vec<u8>) -> Option<(u64, String)> {
    let reader = ParquetRecordBatchReaderBuilder::try_new(bytes::Bytes::from(bytes)).ok()?.build().ok()?;
    let batch = reader.into_iter().next()?.ok()?;
    let passages = batch.column_by_name("passages")?.as_primitive_opt::<Int64Type>()?;
    let content = batch.column_by_name("content")?.as_string_opt::<i32>()?;
    (passages.len() == 1)
        .then(|| Some((u64::try_from(passages.value(0)).ok()?, content.value(0).to_owned())))?
}
