//! Rows as a Parquet file: types, units and what each column is stand in the file itself.

use crate::arithmetic::dates::day_number;
use crate::record::passage_table::Cell;
use ::parquet::basic::{Compression, LogicalType, Repetition, TimeUnit, Type as Physical};
use ::parquet::column::writer::ColumnWriter;
use ::parquet::data_type::ByteArray;
use ::parquet::errors::Result;
use ::parquet::file::metadata::KeyValue;
use ::parquet::file::properties::WriterProperties;
use ::parquet::file::writer::SerializedFileWriter;
use ::parquet::schema::types::Type;
use jiff::civil::Date;
use std::sync::Arc;

/// Rows of one group: our choice, so that a month of a farm is one group and memory stays small.
const GROUP_ROWS: usize = 131_072;

/// What a column holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// UTF-8.
    Text,
    /// Yes or no.
    Yes,
    /// A whole number below 2^31.
    Count,
    /// Any whole number.
    Long,
    /// A measure, as the device has it: 32 bits.
    Measure,
    /// A number of 64 bits.
    Number,
    /// A day.
    Day,
    /// A moment, ms, UTC.
    Time,
}

/// A column of a table.
#[derive(Clone, Debug)]
pub struct Column {
    /// Its name.
    pub name: &'static str,
    /// What it holds.
    pub kind: Kind,
    /// The unit, where it has one.
    pub unit: &'static str,
    /// What it is.
    pub about: &'static str,
}

impl Column {
    /// A column.
    #[must_use]
    pub const fn new(name: &'static str, kind: Kind, unit: &'static str, about: &'static str) -> Self {
        Self { name, kind, unit, about }
    }

    fn field(&self) -> Result<Arc<Type>> {
        let (physical, logical) = match self.kind {
            Kind::Text => (Physical::BYTE_ARRAY, Some(LogicalType::String)),
            Kind::Yes => (Physical::BOOLEAN, None),
            Kind::Count => (Physical::INT32, None),
            Kind::Long => (Physical::INT64, None),
            Kind::Measure => (Physical::FLOAT, None),
            Kind::Number => (Physical::DOUBLE, None),
            Kind::Day => (Physical::INT32, Some(LogicalType::Date)),
            Kind::Time => (Physical::INT64, Some(LogicalType::timestamp(true, TimeUnit::MILLIS))),
        };
        let field = Type::primitive_type_builder(self.name, physical)
            .with_repetition(Repetition::OPTIONAL)
            .with_logical_type(logical);
        Ok(Arc::new(field.build()?))
    }
}

/// Days since 1970, as the format counts them.
#[must_use]
pub fn days(day: Date) -> i32 {
    i32::try_from(day_number(day)).unwrap_or(i32::MAX)
}

/// The rows as a file. `notes` stand in it beside the units and the meaning of the columns. The same rows give the same
/// bytes.
///
/// # Errors
/// When a cell is not of its column's kind.
pub fn file(name: &str, columns: &[Column], rows: &[Vec<Cell>], notes: &[(&str, String)]) -> Result<Vec<u8>> {
    let fields = columns.iter().map(Column::field).collect::<Result<_>>()?;
    let schema = Arc::new(Type::group_type_builder(name).with_fields(fields).build()?);
    let unit = |column: &Column| KeyValue::new(format!("unit:{}", column.name), column.unit.to_owned());
    let mut kept: Vec<_> =
        notes.iter().map(|note| KeyValue::new(note.0.to_owned(), note.1.clone())).collect();
    kept.extend(columns.iter().filter(|column| !column.unit.is_empty()).map(unit));
    kept.extend(
        columns.iter().map(|column| KeyValue::new(format!("about:{}", column.name), column.about.to_owned())),
    );
    let properties = WriterProperties::builder()
        .set_compression(Compression::SNAPPY)
        .set_created_by("fourplate".to_owned())
        .set_key_value_metadata(Some(kept))
        .build();
    let mut writer = SerializedFileWriter::new(Vec::new(), schema, Arc::new(properties))?;
    for rows in rows.chunks(GROUP_ROWS) {
        let mut group = writer.next_row_group()?;
        let mut places = 0..columns.len();
        while let (Some(mut column), Some(place)) = (group.next_column()?, places.next()) {
            write(column.untyped(), &columns[place], rows.iter().map(|row| &row[place]))?;
            column.close()?;
        }
        group.close()?;
    }
    writer.into_inner()
}

fn write<'a>(
    to: &mut ColumnWriter<'_>,
    column: &Column,
    cells: impl Iterator<Item = &'a Cell> + Clone,
) -> Result<()> {
    let there: Vec<i16> = cells.clone().map(|cell| i16::from(*cell != Cell::Empty)).collect();
    let full = cells.filter(|cell| **cell != Cell::Empty);
    macro_rules! values {
        ($writer:expr, $value:expr) => {{
            let values = full.map($value).collect::<Option<Vec<_>>>();
            let values = values.ok_or_else(|| {
                ::parquet::errors::ParquetError::General(format!("{} is no {:?}", column.name, column.kind))
            })?;
            $writer.write_batch(&values, Some(&there), None)?;
        }};
    }
    match to {
        ColumnWriter::ByteArrayColumnWriter(writer) => values!(writer, |cell| match cell {
            Cell::Text(text) => Some(ByteArray::from(text.as_str())),
            _ => None,
        }),
        ColumnWriter::BoolColumnWriter(writer) => values!(writer, |cell| match cell {
            Cell::Yes(yes) => Some(*yes),
            _ => None,
        }),
        ColumnWriter::Int32ColumnWriter(writer) => values!(writer, |cell| match cell {
            Cell::Count(count) => i32::try_from(*count).ok(),
            Cell::Day(day) => Some(days(*day)),
            _ => None,
        }),
        ColumnWriter::Int64ColumnWriter(writer) => values!(writer, |cell| match cell {
            Cell::Time(time) => Some(time.as_millisecond()),
            Cell::Long(number) => Some(*number),
            _ => None,
        }),
        ColumnWriter::FloatColumnWriter(writer) => values!(writer, |cell| match cell {
            Cell::Number(number) => Some(*number),
            _ => None,
        }),
        ColumnWriter::DoubleColumnWriter(writer) => values!(writer, |cell| match cell {
            Cell::Seconds(number) | Cell::Exact(number) => Some(*number),
            _ => None,
        }),
        _ => unreachable!("a column has one of these kinds"),
    }
    Ok(())
}
