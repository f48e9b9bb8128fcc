//! A session of the engine, in this process or on a cluster, with the tables of a data set.

use crate::dataset::Dataset;
use crate::functions::{results, score_farm};
use crate::place::Place;
use crate::rows::fields;
use crate::stores::runtime;
use anyhow::Context;
use ballista::extension::SessionContextExt;
use datafusion::arrow::datatypes::{DataType, Schema};
use datafusion::datasource::file_format::parquet::ParquetFormat;
use datafusion::datasource::listing::{ListingOptions, ListingTable, ListingTableConfig, ListingTableUrl};
use datafusion::execution::{SessionState, SessionStateBuilder};
use datafusion::prelude::{SessionConfig, SessionContext, col, lit};
use host::report::exchange::dataset::parquet::Column;
use host::report::exchange::dataset::{passages, tables};
use std::sync::Arc;

/// The engine's settings: text as plain UTF-8, as the functions read it.
#[must_use]
pub fn config() -> SessionConfig {
    let mut config = SessionConfig::new().with_information_schema(false);
    let options = config.options_mut();
    options.execution.parquet.schema_force_view_types = false;
    options.sql_parser.map_string_types_to_utf8view = false;
    config
}

/// A state that knows the score.
///
/// # Errors
/// Never: the function's name is its own.
pub fn state(config: SessionConfig) -> datafusion::error::Result<SessionState> {
    let mut state = SessionStateBuilder::new()
        .with_config(config)
        .with_runtime_env(runtime()?)
        .with_default_features()
        .build();
    datafusion::execution::FunctionRegistry::register_udf(&mut state, Arc::new(score_farm()))?;
    Ok(state)
}

/// A session in this process, or on the cluster whose scheduler is told, as `http://host:port`.
///
/// # Errors
/// When the scheduler's address is none.
pub async fn session(scheduler: Option<&str>) -> anyhow::Result<SessionContext> {
    let Some(address) = scheduler else { return Ok(SessionContext::new_with_state(state(config())?)) };
    let state = state(crate::cluster::config())?;
    let session =
        SessionContext::remote_with_state(address, state).await.with_context(|| address.to_owned())?;
    // The cluster's own functions have taken the place of ours.
    session.register_udf(score_farm());
    Ok(session)
}

/// Tables of a data set: name, columns, and what its files are parted by.
fn tables() -> [(&'static str, Vec<Column>, &'static [&'static str]); 6] {
    [
        ("passages", passages::columns(), &["farm", "month"]),
        ("animals", tables::ANIMALS.to_vec(), &["farm"]),
        ("scores", tables::SCORES.to_vec(), &["farm"]),
        ("work", tables::WORK.to_vec(), &["farm"]),
        ("cases", tables::CASES.to_vec(), &["farm"]),
        ("farms", tables::FARM.to_vec(), &["farm"]),
    ]
}

/// Makes known the tables of the farms that are named.
///
/// # Errors
/// When the place cannot be read.
pub fn know_dataset(session: &SessionContext, dataset: &Dataset, farms: &[&str]) -> anyhow::Result<()> {
    for (name, columns, parts) in tables() {
        know(session, &dataset.place, name, &columns, parts, farms)?;
    }
    Ok(())
}

/// Makes known what the score gave of the farms that are named.
///
/// # Errors
/// When the place cannot be read.
pub fn know_results(session: &SessionContext, place: &Place, farms: &[&str]) -> anyhow::Result<()> {
    for (name, columns) in results() {
        know(session, place, name, &columns, &["farm"], farms)?;
    }
    Ok(())
}

fn know(
    session: &SessionContext,
    place: &Place,
    name: &str,
    columns: &[Column],
    parts: &[&str],
    farms: &[&str],
) -> anyhow::Result<()> {
    let parts = parts.iter().map(|part| ((*part).to_owned(), DataType::Utf8)).collect();
    let options = ListingOptions::new(Arc::new(ParquetFormat::default()))
        .with_file_extension(".parquet")
        .with_table_partition_cols(parts);
    let config = ListingTableConfig::new(ListingTableUrl::parse(place.url.join(&format!("{name}/"))?)?)
        .with_listing_options(options)
        .with_schema(Arc::new(Schema::new(fields(columns))));
    let files = session.read_table(Arc::new(ListingTable::try_new(config)?))?;
    // Files of other farms, torn ones among them, are then not even opened.
    let named = farms.iter().map(|farm| lit(*farm)).collect();
    session.deregister_table(name)?;
    session.register_table(name, files.filter(col("farm").in_list(named, false))?.into_view())?;
    Ok(())
}
