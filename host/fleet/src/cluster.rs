//! The processes of a cluster: a scheduler, and executors that know the score.

use crate::functions::score_farm;
use crate::{session, stores};
use anyhow::{Context, anyhow};
use ballista_core::extension::SessionConfigExt;
use ballista_core::registry::BallistaFunctionRegistry;
use ballista_executor::executor_process::{ExecutorProcessConfig, start_executor_process};
use ballista_scheduler::cluster::BallistaCluster;
use ballista_scheduler::config::SchedulerConfig;
use ballista_scheduler::scheduler_process::start_server;
use clap::Args;
use datafusion::prelude::SessionConfig;
use std::net::{IpAddr, SocketAddr};
use std::sync::Arc;

/// An executor says that it lives each so many seconds ...
const HEARTBEAT_S: u64 = 2;
/// ... and is taken for dead after so many; what it had done is then done again by others. Our choice.
const DEAD_AFTER_S: u64 = 10;
/// Largest message between the processes: plans name every farm of a run. Our choice.
const MESSAGE_BYTES: u32 = 256 * 1024 * 1024;

/// The engine's settings on a cluster.
#[must_use]
pub fn config() -> SessionConfig {
    let mut config =
        SessionConfig::new_with_ballista().with_ballista_grpc_client_max_message_size(MESSAGE_BYTES as usize);
    let options = config.options_mut();
    let plain = session::config();
    options.execution.parquet.schema_force_view_types =
        plain.options().execution.parquet.schema_force_view_types;
    options.sql_parser.map_string_types_to_utf8view = plain.options().sql_parser.map_string_types_to_utf8view;
    config
}

/// Where a scheduler listens.
#[derive(Debug, Args)]
pub struct SchedulerArgs {
    /// Address to listen on; whoever can reach it can read the data set, so keep it to a network of your own
    #[arg(long, default_value = "127.0.0.1")]
    bind: IpAddr,
    /// Its port
    #[arg(long, default_value_t = 50050)]
    port: u16,
}

/// Where an executor listens, and what it takes.
#[derive(Debug, Args)]
pub struct ExecutorArgs {
    /// The scheduler's address
    #[arg(long, default_value = "127.0.0.1")]
    scheduler: String,
    /// The scheduler's port
    #[arg(long, default_value_t = 50050)]
    scheduler_port: u16,
    /// Address to listen on, and by which the others reach this one
    #[arg(long, default_value = "127.0.0.1")]
    bind: IpAddr,
    /// Port for data
    #[arg(long, default_value_t = 50051)]
    port: u16,
    /// Port for orders
    #[arg(long, default_value_t = 50052)]
    order_port: u16,
    /// Farms scored at a time (default: cores of the machine)
    #[arg(long)]
    at_a_time: Option<usize>,
    /// Folder for what is handed on between steps (default: one of its own, gone at the end)
    #[arg(long)]
    work: Option<String>,
}

/// Runs a scheduler until it is stopped.
///
/// # Errors
/// When it cannot listen.
pub async fn scheduler(args: &SchedulerArgs) -> anyhow::Result<()> {
    let config = SchedulerConfig {
        bind_host: args.bind.to_string(),
        bind_port: args.port,
        external_host: args.bind.to_string(),
        executor_timeout_seconds: DEAD_AFTER_S,
        expire_dead_executor_interval_seconds: HEARTBEAT_S,
        no_executors_grace_period_seconds: 3 * DEAD_AFTER_S,
        grpc_server_max_decoding_message_size: MESSAGE_BYTES,
        grpc_server_max_encoding_message_size: MESSAGE_BYTES,
        grpc_client_max_message_size: MESSAGE_BYTES,
        override_config_producer: Some(Arc::new(config)),
        override_session_builder: Some(Arc::new(session::state)),
        ..SchedulerConfig::default()
    };
    let cluster = BallistaCluster::new_from_config(&config).await.map_err(|error| anyhow!("{error}"))?;
    start_server(cluster, SocketAddr::new(args.bind, args.port), Arc::new(config))
        .await
        .map_err(|error| anyhow!("{error}"))
        .with_context(|| format!("{}:{}", args.bind, args.port))
}

/// Runs an executor until it is stopped.
///
/// # Errors
/// When it cannot listen, or finds no scheduler.
pub async fn executor(args: &ExecutorArgs) -> anyhow::Result<()> {
    let mut functions = BallistaFunctionRegistry::default();
    let score = score_farm();
    functions.scalar_functions.insert(score.name().to_owned(), Arc::new(score));
    let mut settings = ExecutorProcessConfig {
        bind_host: args.bind.to_string(),
        external_host: Some(args.bind.to_string()),
        port: args.port,
        grpc_port: args.order_port,
        scheduler_host: args.scheduler.clone(),
        scheduler_port: args.scheduler_port,
        scheduler_connect_timeout_seconds: 30,
        work_dir: args.work.clone(),
        executor_heartbeat_interval_seconds: HEARTBEAT_S,
        grpc_max_decoding_message_size: MESSAGE_BYTES,
        grpc_max_encoding_message_size: MESSAGE_BYTES,
        override_function_registry: Some(Arc::new(functions)),
        override_config_producer: Some(Arc::new(config)),
        override_runtime_producer: Some(Arc::new(|_| stores::runtime())),
        ..ExecutorProcessConfig::default()
    };
    if let Some(at_a_time) = args.at_a_time {
        settings.vcores = at_a_time;
    }
    start_executor_process(Arc::new(settings)).await.map_err(|error| anyhow!("{error}"))
}
