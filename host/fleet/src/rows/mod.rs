//! Between rows of the data set as the engine holds them and plain data of `host`.

mod cells;
mod passages;
mod records;

pub use cells::{batch, fields};
pub use passages::passages;
pub use records::{herd, scores, work};

use datafusion::arrow::array::{Array, AsArray, StructArray};
use datafusion::arrow::array::{
    BooleanArray, Date32Array, Float32Array, Int32Array, Int64Array, StringArray,
};
use datafusion::arrow::datatypes::{Date32Type, Float32Type, Int32Type, Int64Type, TimestampMillisecondType};
use datafusion::error::{DataFusionError, Result};
use host::arithmetic::dates::date_of_number;
use host::record::AnimalId;
use jiff::Timestamp;
use jiff::civil::Date;

/// Columns of a table, found once by name.
struct Table<'a>(&'a StructArray);

impl<'a> Table<'a> {
    fn column<T>(&self, name: &str, of: impl FnOnce(&'a dyn Array) -> Option<T>) -> Result<T> {
        let column = self.0.column_by_name(name).and_then(|column| of(column.as_ref()));
        column.ok_or_else(|| {
            DataFusionError::Execution(format!("column {name} is not there, or of another type"))
        })
    }

    fn text(&self, name: &str) -> Result<&'a StringArray> {
        self.column(name, |column| column.as_string_opt::<i32>())
    }

    fn yes(&self, name: &str) -> Result<&'a BooleanArray> {
        self.column(name, |column| column.as_boolean_opt())
    }

    fn count(&self, name: &str) -> Result<&'a Int32Array> {
        self.column(name, |column| column.as_primitive_opt::<Int32Type>())
    }

    fn long(&self, name: &str) -> Result<&'a Int64Array> {
        self.column(name, |column| column.as_primitive_opt::<Int64Type>())
    }

    fn measure(&self, name: &str) -> Result<&'a Float32Array> {
        self.column(name, |column| column.as_primitive_opt::<Float32Type>())
    }

    fn day(&self, name: &str) -> Result<&'a Date32Array> {
        self.column(name, |column| column.as_primitive_opt::<Date32Type>())
    }

    fn time(&self, name: &str) -> Result<&'a datafusion::arrow::array::TimestampMillisecondArray> {
        self.column(name, |column| column.as_primitive_opt::<TimestampMillisecondType>())
    }

    /// Places of the rows in the order of a column.
    fn ordered(&self, by: &Int64Array) -> Vec<usize> {
        let mut places: Vec<usize> = (0..by.len()).collect();
        places.sort_by_key(|&place| by.value(place));
        places
    }
}

/// The value where there is one.
macro_rules! at {
    ($column:expr, $row:expr) => {
        ($column.is_valid($row)).then(|| $column.value($row))
    };
}
use at;

/// A day as the format counts it: from 1970 on.
pub fn day_of(days: i32) -> Date {
    date_of_number(days.into())
}

fn moment(ms: i64) -> Timestamp {
    Timestamp::from_millisecond(ms).unwrap_or_default()
}

fn animal(column: &StringArray, row: usize) -> Option<AnimalId> {
    at!(column, row).map(|text| AnimalId(text.to_owned()))
}
