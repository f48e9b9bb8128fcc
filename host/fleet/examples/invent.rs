//! Invents a data set of many farms, to measure with: `invent FOLDER FARMS COWS DAYS`.

#[path = "../../../tests/support/simulated_herd.rs"]
#[allow(dead_code, missing_docs, reason = "made for tests")]
mod simulated_herd;

use host::record::passage_table::Cell;
use host::report::exchange::dataset::parquet::{Column, file};
use host::report::exchange::dataset::passages::{columns, keyed_row};
use host::report::exchange::dataset::{self, SCHEMA, tables};
use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

const ORGANISATION: &str = "Invented";

fn put(root: &Path, name: &str, farm: u64, columns: &[Column], rows: &[Vec<Cell>]) -> anyhow::Result<()> {
    let notes = [
        ("fourplate:schema", SCHEMA.to_string()),
        ("fourplate:store", format!("{farm:016x}")),
        ("fourplate:organisation", ORGANISATION.to_owned()),
    ];
    let path = root.join(name);
    fs::create_dir_all(path.parent().unwrap_or(root))?;
    Ok(fs::write(path, file("invented", columns, rows, &notes)?)?)
}

fn farm(root: &Path, farm: u64, cows: usize, days: i64) -> anyhow::Result<()> {
    let scenario = simulated_herd::Scenario { seed: farm, cows, days, ..simulated_herd::Scenario::default() };
    let herd = simulated_herd::herd(&scenario);
    let code = format!("farm={farm:06}");
    let passages = herd.passages.len();
    let mut months: BTreeMap<String, Vec<Vec<Cell>>> = BTreeMap::new();
    for (id, mut passage) in herd.passages.into_iter().enumerate() {
        passage.id = i64::try_from(id)?;
        let month = passage.date.strftime("%Y-%m").to_string();
        months.entry(month).or_default().push(keyed_row((passage, "listed".to_owned())));
    }
    for (month, rows) in months {
        put(root, &format!("passages/{code}/month={month}/passages.parquet"), farm, &columns(), &rows)?;
    }
    put(
        root,
        &format!("animals/{code}/animals.parquet"),
        farm,
        &tables::ANIMALS,
        &tables::animals(&herd.register),
    )?;
    put(root, &format!("scores/{code}/scores.parquet"), farm, &tables::SCORES, &[])?;
    put(root, &format!("work/{code}/work.parquet"), farm, &tables::WORK, &[])?;
    put(root, &format!("cases/{code}/cases.parquet"), farm, &tables::CASES, &[])?;
    let own = vec![
        Cell::Text(format!("{farm:016x}")),
        Cell::Text("UTC".to_owned()),
        Cell::Exact(1.0),
        Cell::Empty,
        Cell::Empty,
        Cell::Long(i64::try_from(passages)?),
        Cell::Text(format!("{farm}")),
    ];
    put(root, &format!("farms/{code}/farms.parquet"), farm, &tables::FARM, &[own])
}

fn main() -> anyhow::Result<()> {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let [folder, farms, cows, days] = args.as_slice() else { anyhow::bail!("invent FOLDER FARMS COWS DAYS") };
    let (root, cows, days) = (Path::new(folder), cows.parse()?, days.parse()?);
    dataset::marker(root, Some(ORGANISATION))?;
    (0..farms.parse()?).try_for_each(|number| farm(root, number, cows, days))
}
