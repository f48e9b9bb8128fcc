//! Columns and cells of `host` as arrays.

use datafusion::arrow::array::{
    ArrayRef, BooleanArray, Date32Array, Float32Array, Float64Array, Int32Array, Int64Array, StringArray,
    StructArray, TimestampMillisecondArray,
};
use datafusion::arrow::datatypes::{DataType, Field, Fields, TimeUnit};
use datafusion::error::Result;
use host::record::passage_table::Cell;
use host::report::exchange::dataset::parquet::{Column, Kind, days};
use std::sync::Arc;

/// The columns as fields of a schema.
#[must_use]
pub fn fields(columns: &[Column]) -> Fields {
    columns.iter().map(|column| Field::new(column.name, kind(column.kind), true)).collect()
}

fn kind(kind: Kind) -> DataType {
    match kind {
        Kind::Text => DataType::Utf8,
        Kind::Yes => DataType::Boolean,
        Kind::Count => DataType::Int32,
        Kind::Long => DataType::Int64,
        Kind::Measure => DataType::Float32,
        Kind::Number => DataType::Float64,
        Kind::Day => DataType::Date32,
        Kind::Time => DataType::Timestamp(TimeUnit::Millisecond, Some("UTC".into())),
    }
}

/// The rows as one array of structs.
///
/// # Errors
/// Never with rows of these columns.
pub fn batch(columns: &[Column], rows: &[Vec<Cell>]) -> Result<StructArray> {
    let arrays = columns.iter().enumerate().map(|(place, column)| array(column.kind, rows, place)).collect();
    Ok(StructArray::try_new(fields(columns), arrays, None)?)
}

fn array(kind: Kind, rows: &[Vec<Cell>], place: usize) -> ArrayRef {
    macro_rules! of {
        ($array:ty, $pattern:pat => $value:expr) => {
            Arc::new(
                rows.iter()
                    .map(|row| match &row[place] {
                        $pattern => Some($value),
                        _ => None,
                    })
                    .collect::<$array>(),
            )
        };
    }
    match kind {
        Kind::Text => of!(StringArray, Cell::Text(text) => text.as_str()),
        Kind::Yes => of!(BooleanArray, Cell::Yes(yes) => *yes),
        Kind::Count => of!(Int32Array, Cell::Count(count) => count.cast_signed()),
        Kind::Long => of!(Int64Array, Cell::Long(number) => *number),
        Kind::Measure => of!(Float32Array, Cell::Number(number) => *number),
        Kind::Number => of!(Float64Array, Cell::Exact(number) | Cell::Seconds(number) => *number),
        Kind::Day => of!(Date32Array, Cell::Day(day) => days(*day)),
        Kind::Time => {
            let times = rows.iter().map(|row| match &row[place] {
                Cell::Time(time) => Some(time.as_millisecond()),
                _ => None,
            });
            Arc::new(times.collect::<TimestampMillisecondArray>().with_timezone("UTC"))
        }
    }
}
