//! Every farm of a data set scored, and what came out kept by farm.

use crate::dataset::{Dataset, Farm, READ_AT_A_TIME, note};
use crate::functions::results;
use crate::place::{Object, Place};
use crate::session::know_dataset;
use anyhow::{Context, anyhow};
use datafusion::arrow::array::{AsArray, RecordBatch, StructArray};
use datafusion::prelude::SessionContext;
use futures_util::{StreamExt, TryStreamExt, stream};
use host::report::exchange::dataset::parquet::Column;
use host::report::exchange::dataset::passages::columns;
use host::report::exchange::dataset::{SCHEMA, tables};
use host::score::checksum::checksum;
use parquet::arrow::ArrowWriter;
use parquet::basic::Compression;
use parquet::file::metadata::KeyValue;
use parquet::file::properties::WriterProperties;
use std::collections::{BTreeMap, BTreeSet};

/// Passages of the farms of one run of the engine, which holds them all at once, some 2 kB each: 600 MB. Our choice.
const PASSAGES_A_RUN: u64 = 300_000;

/// What a call did.
#[derive(Clone, Debug, Default, PartialEq, Eq, serde::Serialize)]
pub struct Scored {
    /// Farms scored now.
    pub scored: usize,
    /// Farms whose rows still hold.
    pub as_they_were: usize,
    /// Farms whose rows were taken away, since they are in the data set no more.
    pub taken_away: usize,
    /// Farms left aside.
    pub aside: usize,
}

/// What a farm's rows are made from: they hold as long as it is the same.
fn made_from(farm: &Farm) -> String {
    format!("{} {:08x}", farm.content, checksum())
}

const MADE_FROM: &str = "fourplate:made_from";

fn name(table: &str, farm: &str) -> String {
    format!("{table}/farm={farm}/{table}.parquet")
}

/// The farms whose rows hold, and the others.
///
/// # Errors
/// When the results cannot be read.
pub async fn current<'a>(dataset: &'a Dataset, to: &Place) -> anyhow::Result<(Vec<&'a Farm>, Vec<&'a Farm>)> {
    let kept: BTreeMap<String, Object> =
        to.list("days").await?.into_iter().map(|object| (object.name.clone(), object)).collect();
    let notes = stream::iter(&dataset.farms).map(|farm| {
        let object = kept.get(&name("days", &farm.code)).cloned();
        async move {
            let Some(object) = object else { return Ok(None) };
            note(to, &object, MADE_FROM).await
        }
    });
    let notes: Vec<Option<String>> = notes.buffered(READ_AT_A_TIME).try_collect().await?;
    let (mut hold, mut others) = (Vec::new(), Vec::new());
    for (farm, note) in dataset.farms.iter().zip(notes) {
        if note == Some(made_from(farm)) { hold.push(farm) } else { others.push(farm) }
    }
    Ok((hold, others))
}

/// Scores the farms whose rows do not hold any more, some at a time, and takes away what is of no farm.
///
/// # Errors
/// When a farm cannot be scored, or the results cannot be written. Farms done before are kept.
pub async fn score(
    session: &SessionContext,
    dataset: &Dataset,
    to: &Place,
    mut done: impl FnMut(usize, usize),
) -> anyhow::Result<Scored> {
    let (hold, others) = current(dataset, to).await?;
    let mut scored = Scored { as_they_were: hold.len(), aside: dataset.aside.len(), ..Scored::default() };
    let there: BTreeSet<&str> = dataset.farms.iter().map(|farm| farm.code.as_str()).collect();
    for (table, _) in results() {
        for object in to.list(table).await? {
            let farm = object.name.split('/').nth(1).and_then(|part| part.strip_prefix("farm="));
            if farm.is_some_and(|farm| !there.contains(farm)) {
                to.remove(&object.name).await?;
                scored.taken_away += usize::from(table == "days");
            }
        }
    }
    for farms in in_runs(&others) {
        let codes: Vec<&str> = farms.iter().map(|farm| farm.code.as_str()).collect();
        know_dataset(session, dataset, &codes)?;
        let batches = session.sql(&plan(farms)).await?.collect().await?;
        for batch in &batches {
            keep(batch, farms, to).await?;
            scored.scored += batch.num_rows();
        }
        done(scored.scored, others.len());
    }
    Ok(scored)
}

/// Farms of at most [`PASSAGES_A_RUN`] at a time, and one at least.
fn in_runs<'f, 'a>(farms: &'f [&'a Farm]) -> impl Iterator<Item = &'f [&'a Farm]> {
    let mut rest = farms;
    std::iter::from_fn(move || {
        let mut passages = 0;
        let fit = rest.iter().take_while(|farm| {
            passages += farm.passages;
            passages <= PASSAGES_A_RUN
        });
        let (run, others) = rest.split_at(fit.count().max(1).min(rest.len()));
        rest = others;
        (!run.is_empty()).then_some(run)
    })
}

/// A table's rows as one list a farm.
fn gathered(table: &str, columns: &[Column]) -> String {
    let fields: Vec<_> = columns.iter().map(|column| format!("'{0}', \"{0}\"", column.name)).collect();
    format!(
        "(SELECT farm, array_agg(named_struct({})) AS entries FROM {table} GROUP BY farm)",
        fields.join(", ")
    )
}

/// The plan of a run. A table of which no farm has rows is left out: a cluster waits for ever for a step without any.
fn plan(farms: &[&Farm]) -> String {
    let tables = [
        ("passages", columns()),
        ("animals", tables::ANIMALS.to_vec()),
        ("scores", tables::SCORES.to_vec()),
        ("work", tables::WORK.to_vec()),
    ];
    let (mut entries, mut joins) = (Vec::new(), String::new());
    for (name, columns) in &tables {
        if farms.iter().any(|farm| farm.filled.contains(*name)) {
            entries.push(format!("{name}_of.entries"));
            joins += &format!(" LEFT JOIN {} {name}_of ON {name}_of.farm = f.farm", gathered(name, columns));
        } else {
            entries.push("NULL".to_owned());
        }
    }
    format!(
        "SELECT f.farm, score_farm(f.time_zone, f.needless_looks, f.plates_settled, f.model_prior, {}) AS result
         FROM farms f{joins}",
        entries.join(", ")
    )
}

/// Keeps the rows of each farm of a batch; the days last, since they say that the farm is done.
async fn keep(batch: &RecordBatch, farms: &[&Farm], to: &Place) -> anyhow::Result<()> {
    let missing = || anyhow!("the engine gave another table than was asked for");
    let codes = batch.column(0).as_string_opt::<i32>().ok_or_else(missing)?;
    let result = batch.column(1).as_struct_opt().ok_or_else(missing)?;
    for row in 0..batch.num_rows() {
        let farm = farms.iter().find(|farm| farm.code == codes.value(row)).ok_or_else(missing)?;
        for (table, _) in results().iter().rev() {
            let list = result.column_by_name(table).and_then(|list| list.as_list_opt::<i32>());
            let rows = list.ok_or_else(missing)?.value(row);
            let bytes = file(rows.as_struct_opt().ok_or_else(missing)?, farm)?;
            to.put(&name(table, &farm.code), bytes).await.with_context(|| name(table, &farm.code))?;
        }
    }
    Ok(())
}

fn file(rows: &StructArray, farm: &Farm) -> anyhow::Result<Vec<u8>> {
    let batch = RecordBatch::from(rows.clone());
    let notes = [("fourplate:schema", SCHEMA.to_string()), (MADE_FROM, made_from(farm))];
    let properties = WriterProperties::builder()
        .set_compression(Compression::SNAPPY)
        .set_created_by("fourplate".to_owned())
        .set_key_value_metadata(Some(notes.map(|(key, value)| KeyValue::new(key.to_owned(), value)).to_vec()))
        .build();
    let mut bytes = Vec::new();
    let mut writer = ArrowWriter::try_new(&mut bytes, batch.schema(), Some(properties))?;
    writer.write(&batch)?;
    writer.close()?;
    Ok(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn farm(code: &str, passages: u64) -> Farm {
        Farm {
            code: code.into(),
            store: code.into(),
            content: String::new(),
            passages,
            bytes: 0,
            filled: BTreeSet::new(),
        }
    }

    #[test]
    fn a_table_without_rows_is_no_part_of_the_plan() {
        let mut filled = farm("a", 1);
        filled.filled = ["passages", "work"].map(str::to_owned).into();
        let bare = farm("b", 1);
        let of = |farms: &[&Farm]| {
            ["passages", "animals", "scores", "work"]
                .map(|table| plan(farms).contains(&format!("FROM {table} ")))
        };
        assert_eq!(of(&[&filled, &bare]), [true, false, false, true]);
        assert_eq!(of(&[&bare]), [false; 4]);
    }

    #[test]
    fn a_run_holds_no_more_than_it_may_and_one_farm_at_least() {
        let farms =
            [farm("a", 200_000), farm("b", 100_000), farm("c", 1), farm("d", 5_000_000), farm("e", 1)];
        let farms: Vec<&Farm> = farms.iter().collect();
        let runs: Vec<Vec<&str>> =
            in_runs(&farms).map(|run| run.iter().map(|farm| farm.code.as_str()).collect()).collect();
        assert_eq!(runs, [vec!["a", "b"], vec!["c"], vec!["d"], vec!["e"]]);
        assert_eq!(in_runs(&[]).count(), 0);
    }
}
