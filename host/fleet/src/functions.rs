//! The score as a function of the engine: all of one farm in, its days out.

use crate::rows;
use datafusion::arrow::array::{Array, ArrayRef, AsArray, ListArray, StructArray};
use datafusion::arrow::buffer::OffsetBuffer;
use datafusion::arrow::compute::concat;
use datafusion::arrow::datatypes::{DataType, Date32Type, Field, Fields, Float64Type};
use datafusion::error::{DataFusionError, Result};
use datafusion::logical_expr::{
    ColumnarValue, ScalarFunctionArgs, ScalarUDF, ScalarUDFImpl, Signature, Volatility,
};
use host::record::{ObserverPrior, known_at_last};
use host::report::exchange::dataset::parquet::Column;
use host::report::exchange::dataset::tables;
use host::score::course::engine::{Inputs, run};
use host::score::{ScoreRun, ScoreSettings};
use jiff::tz::TimeZone;
use std::sync::Arc;

/// What the function gives, by farm: a list of each of these tables' rows.
#[must_use]
pub fn results() -> [(&'static str, Vec<Column>); 3] {
    [
        ("days", tables::DAYS.to_vec()),
        ("lanes", tables::LANES.to_vec()),
        ("observers", tables::OBSERVERS.to_vec()),
    ]
}

fn list_of(columns: &[Column]) -> Arc<Field> {
    Arc::new(Field::new("item", DataType::Struct(rows::fields(columns)), true))
}

fn result_fields() -> Fields {
    results()
        .iter()
        .map(|(name, columns)| Field::new(*name, DataType::List(list_of(columns)), true))
        .collect()
}

/// `score_farm(time_zone, needless_looks, plates_settled, model_prior, passages, animals, scores, work)`.
#[derive(Debug, PartialEq, Eq, Hash)]
struct ScoreFarm {
    signature: Signature,
}

/// The score as a function, for every process that takes part.
#[must_use]
pub fn score_farm() -> ScalarUDF {
    ScalarUDF::from(ScoreFarm { signature: Signature::any(8, Volatility::Immutable) })
}

impl ScalarUDFImpl for ScoreFarm {
    fn name(&self) -> &str {
        "score_farm"
    }

    fn signature(&self) -> &Signature {
        &self.signature
    }

    fn return_type(&self, _: &[DataType]) -> Result<DataType> {
        Ok(DataType::Struct(result_fields()))
    }

    fn invoke_with_args(&self, args: ScalarFunctionArgs) -> Result<ColumnarValue> {
        let arrays = ColumnarValue::values_to_arrays(&args.args)?;
        let runs = (0..args.number_rows).map(|row| score(&arrays, row)).collect::<Result<Vec<_>>>()?;
        let [days, lanes, observers] = results();
        let lists = vec![
            lists(&days.1, runs.iter().map(|run| tables::days(&run.days)))?,
            lists(&lanes.1, runs.iter().map(|run| tables::lanes(&run.lanes)))?,
            lists(&observers.1, runs.iter().map(tables::observers))?,
        ];
        Ok(ColumnarValue::Array(Arc::new(StructArray::try_new(result_fields(), lists, None)?)))
    }
}

/// A list of rows for each farm.
fn lists(
    columns: &[Column],
    farms: impl Iterator<Item = Vec<Vec<host::record::passage_table::Cell>>>,
) -> Result<ArrayRef> {
    let parts = farms.map(|rows| rows::batch(columns, &rows)).collect::<Result<Vec<_>>>()?;
    let offsets = OffsetBuffer::from_lengths(parts.iter().map(Array::len));
    let parts: Vec<&dyn Array> = parts.iter().map(|part| part as &dyn Array).collect();
    let values =
        if parts.is_empty() { Arc::new(rows::batch(columns, &[])?) as ArrayRef } else { concat(&parts)? };
    Ok(Arc::new(ListArray::try_new(list_of(columns), offsets, values, None)?))
}

/// The rows of a table that a farm has; none where it has no such file.
fn table(array: &ArrayRef, row: usize) -> Result<Option<ArrayRef>> {
    if array.data_type() == &DataType::Null {
        return Ok(None);
    }
    let list = array
        .as_list_opt::<i32>()
        .ok_or_else(|| DataFusionError::Execution("score_farm wants lists of rows".into()))?;
    Ok(list.is_valid(row).then(|| list.value(row)))
}

fn rows_of<T>(array: &ArrayRef, row: usize, read: impl Fn(&StructArray) -> Result<Vec<T>>) -> Result<Vec<T>> {
    match table(array, row)? {
        None => Ok(Vec::new()),
        Some(values) => read(
            values
                .as_struct_opt()
                .ok_or_else(|| DataFusionError::Execution("score_farm wants lists of structs".into()))?,
        ),
    }
}

/// One farm scored, as its own program does it.
fn score(arrays: &[ArrayRef], row: usize) -> Result<ScoreRun> {
    let text = |place: usize| {
        let column = arrays[place].as_string_opt::<i32>().filter(|column| column.is_valid(row));
        column.map(|column| column.value(row)).unwrap_or_default()
    };
    let zone = TimeZone::get(text(0)).map_err(|error| DataFusionError::External(Box::new(error)))?;
    let looks = arrays[1].as_primitive_opt::<Float64Type>().filter(|column| column.is_valid(row));
    let settled = arrays[2].as_primitive_opt::<Date32Type>().filter(|column| column.is_valid(row));
    let passages = rows_of(&arrays[4], row, |rows| rows::passages(rows, &zone))?;
    let herd = rows_of(&arrays[5], row, rows::herd)?;
    let scores = rows_of(&arrays[6], row, rows::scores)?;
    let mut work = rows_of(&arrays[7], row, rows::work)?;
    let last = passages.last().map(|passage| passage.date);
    if let Some(last) = last {
        known_at_last(&mut work, last);
    }
    let settings = ScoreSettings {
        until: last,
        needless_looks: looks.map_or(host::score::settings::NEEDLESS_LOOKS, |column| column.value(row)),
        plates_settled: settled.map(|column| rows::day_of(column.value(row))),
        observer: ObserverPrior::from_text(text(3)).unwrap_or_default(),
        zone,
        ..ScoreSettings::default()
    };
    let inputs = Inputs { passages: &passages, herd: &herd, scores: &scores, work: &work };
    Ok(run(None, &inputs, &settings, |_| {}))
}
