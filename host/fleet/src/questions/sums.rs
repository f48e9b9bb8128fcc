//! The few rows that a plan gives back, by name.

use anyhow::anyhow;
use datafusion::arrow::array::{Array, AsArray, RecordBatch};
use datafusion::arrow::compute::{cast, concat_batches};
use datafusion::arrow::datatypes::{DataType, Float64Type};
use datafusion::prelude::SessionContext;

/// Rows of a plan.
pub struct Sums(RecordBatch);

impl Sums {
    /// Runs the plan.
    pub async fn of(session: &SessionContext, plan: &str) -> anyhow::Result<Self> {
        let frame = session.sql(plan).await?;
        let schema = frame.schema().as_arrow().clone().into();
        Ok(Self(concat_batches(&schema, &frame.collect().await?)?))
    }

    pub fn len(&self) -> usize {
        self.0.num_rows()
    }

    /// A column as text; empty where nothing is known.
    pub fn text(&self, name: &str) -> anyhow::Result<Vec<String>> {
        let column = cast(self.column(name)?, &DataType::Utf8)?;
        let column = column.as_string::<i32>();
        Ok((0..column.len())
            .map(|row| if column.is_valid(row) { column.value(row).to_owned() } else { String::new() })
            .collect())
    }

    /// A column as numbers; NaN where nothing is known.
    pub fn numbers(&self, name: &str) -> anyhow::Result<Vec<f64>> {
        let column = cast(self.column(name)?, &DataType::Float64)?;
        let column = column.as_primitive::<Float64Type>();
        Ok((0..column.len())
            .map(|row| if column.is_valid(row) { column.value(row) } else { f64::NAN })
            .collect())
    }

    fn column(&self, name: &str) -> anyhow::Result<&dyn Array> {
        self.0.column_by_name(name).map(AsRef::as_ref).ok_or_else(|| anyhow!("the plan has no column {name}"))
    }
}
