//! The command line.

use crate::carry::{Carried, carry};
use crate::cluster::{self, ExecutorArgs, SchedulerArgs};
use crate::dataset::Dataset;
use crate::place::Place;
use crate::questions::{Asked, benchmark, lanes, learn, lists, moved, outcomes};
use crate::score::{current, score};
use crate::session::{know_dataset, know_results, session};
use anyhow::Context;
use clap::{Args, Parser, Subcommand};
use datafusion::prelude::SessionContext;
use host::report::output::Format;
use host::report::text;
use serde::Serialize;
use std::io::Write;

/// Questions over the herds of many farms, from a data set that they share (`fourplate export dataset`).
#[derive(Debug, Parser)]
#[command(name = "fleet", version)]
pub struct Cli {
    #[command(subcommand)]
    command: Command,
    /// How to print
    #[arg(long, global = true, value_enum, default_value_t = Format::Text)]
    format: Format,
    /// Work on a cluster: the address of its scheduler, such as http://127.0.0.1:50050 (default: in this process)
    #[arg(long, global = true, value_name = "URL")]
    cluster: Option<String>,
}

#[derive(Debug, Args)]
struct Places {
    /// The data set: a folder, or an address such as s3://bucket/data
    #[arg(value_name = "DATA")]
    data: String,
    /// Where `fleet score` keeps what it found: a folder or an address
    #[arg(value_name = "RESULTS")]
    results: String,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Look the data set over: which farms are whole, and why others are left aside
    Look {
        /// The data set: a folder, or an address such as s3://bucket/data
        #[arg(value_name = "DATA")]
        data: String,
    },
    /// Bring the farms of a data set into another place, such as a store of objects
    Carry {
        /// From: a folder or an address
        #[arg(value_name = "FROM")]
        from: String,
        /// To: a folder or an address
        #[arg(value_name = "TO")]
        to: String,
    },
    /// Score the farms that are new or have changed
    Score(Places),
    /// Farms whose lame share moved
    Moved(Places),
    /// How one farm stands among farms of its size, which stay unnamed
    Benchmark {
        #[command(flatten)]
        places: Places,
        /// Its code
        #[arg(long)]
        farm: String,
    },
    /// What became of treated feet, over all farms
    Outcomes {
        #[command(flatten)]
        places: Places,
        /// Parted by what
        #[arg(long, value_enum, value_delimiter = ',', default_value = "lesion")]
        by: Vec<outcomes::By>,
    },
    /// Lanes that measure badly
    Lanes(Places),
    /// How well the list does on each farm
    Lists(Places),
    /// Learn over all farms what to expect of an observer, for farms to begin with
    Learn(Places),
    /// Run the scheduler of a cluster
    Scheduler(SchedulerArgs),
    /// Run an executor of a cluster
    Executor(ExecutorArgs),
}

/// Runs a command.
///
/// # Errors
/// With what went wrong.
pub async fn run(cli: &Cli) -> anyhow::Result<()> {
    let done = answer(cli).await;
    match &cli.cluster {
        Some(address) => done.with_context(|| format!("on the cluster of {address}")),
        None => done,
    }
}

async fn answer(cli: &Cli) -> anyhow::Result<()> {
    let format = cli.format;
    match &cli.command {
        Command::Look { data } => look(data, format).await,
        Command::Carry { from, to } => {
            let dataset = Dataset::open(Place::of(from)?).await?;
            tell_aside(&dataset)?;
            let done = carry(&dataset, &Place::made(to)?).await?;
            format.print(
                &done,
                |table| table.rows([&done]),
                || {
                    let Carried { farms, as_they_were, files } = done;
                    Ok(format!("farms carried {farms}, as they were {as_they_were}; files written {files}\n"))
                },
            )
        }
        Command::Score(places) => {
            let session = session(cli.cluster.as_deref()).await?;
            let dataset = Dataset::open(Place::of(&places.data)?).await?;
            let results = Place::made(&places.results)?;
            tell_aside(&dataset)?;
            let found = score(&session, &dataset, &results, |done, of| {
                let _ = writeln!(host::report::notes(), "{done} of {of} farms");
            })
            .await?;
            format.print(
                &found,
                |table| table.rows([&found]),
                || {
                    Ok(format!(
                        "scored {}, as they were {}, taken away {}, left aside {}\n",
                        found.scored, found.as_they_were, found.taken_away, found.aside
                    ))
                },
            )
        }
        Command::Moved(places) => moved::print(&moved::ask(&asked(cli, places).await?).await?, format),
        Command::Benchmark { places, farm } => {
            benchmark::print(&benchmark::ask(&asked(cli, places).await?, farm).await?, farm, format)
        }
        Command::Outcomes { places, by } => {
            outcomes::print(&outcomes::ask(&asked(cli, places).await?, by).await?, format)
        }
        Command::Lanes(places) => lanes::print(&lanes::ask(&asked(cli, places).await?).await?, format),
        Command::Lists(places) => lists::print(&lists::ask(&asked(cli, places).await?).await?, format),
        Command::Learn(places) => learn::print(&learn::ask(&asked(cli, places).await?).await?, format),
        Command::Scheduler(args) => cluster::scheduler(args).await,
        Command::Executor(args) => cluster::executor(args).await,
    }
}

fn tell_aside(dataset: &Dataset) -> anyhow::Result<()> {
    for (farm, why) in &dataset.aside {
        writeln!(host::report::notes(), "left aside: farm {farm} {why}")?;
    }
    Ok(())
}

/// A session that knows the farms whose rows hold.
async fn asked(cli: &Cli, places: &Places) -> anyhow::Result<Asked> {
    let dataset = Dataset::open(Place::of(&places.data)?).await?;
    let results = Place::of(&places.results)?;
    tell_aside(&dataset)?;
    let (hold, others) = current(&dataset, &results).await?;
    if !others.is_empty() {
        let codes: Vec<_> = others.iter().map(|farm| farm.code.as_str()).collect();
        writeln!(
            host::report::notes(),
            "not asked, since `fleet score` has not seen their latest data: {}",
            codes.join(", ")
        )?;
    }
    let codes: Vec<&str> = hold.iter().map(|farm| farm.code.as_str()).collect();
    // A cluster waits for ever for a step without any rows; where nobody entered anything there is little to do.
    let entered = ["cases", "work"].iter().all(|table| hold.iter().any(|farm| farm.filled.contains(*table)));
    if cli.cluster.is_some() && !entered {
        writeln!(host::report::notes(), "no farm has entered foot work: worked out in this process")?;
    }
    let session: SessionContext = session(cli.cluster.as_deref().filter(|_| entered)).await?;
    know_dataset(&session, &dataset, &codes)?;
    know_results(&session, &results, &codes)?;
    Ok(Asked { session })
}

#[derive(Serialize)]
struct Looked<'a> {
    farm: &'a str,
    passages: Option<u64>,
    bytes: Option<u64>,
    left_aside: Option<String>,
}

async fn look(data: &str, format: Format) -> anyhow::Result<()> {
    let dataset = Dataset::open(Place::of(data)?).await?;
    let whole = dataset.farms.iter().map(|farm| Looked {
        farm: &farm.code,
        passages: Some(farm.passages),
        bytes: Some(farm.bytes),
        left_aside: None,
    });
    let aside = dataset.aside.iter().map(|(farm, why)| Looked {
        farm,
        passages: None,
        bytes: None,
        left_aside: Some(why.to_string()),
    });
    let rows: Vec<_> = whole.chain(aside).collect();
    format.print(
        &rows,
        |table| table.rows(&rows),
        || {
            let mut table = text::table(&["farm", "passages", "MB", ""]);
            text::align_right(&mut table, &[1, 2]);
            for row in &rows {
                let number = |number: Option<String>| number.unwrap_or_default();
                table.add_row([
                    row.farm.to_owned(),
                    number(row.passages.map(|passages| passages.to_string())),
                    number(row.bytes.map(|bytes| format!("{:.2}", bytes as f64 / 1e6))),
                    row.left_aside.as_ref().map_or_else(String::new, |why| format!("left aside: {why}")),
                ]);
            }
            let (passages, bytes) =
                dataset.farms.iter().fold((0, 0), |sum, farm| (sum.0 + farm.passages, sum.1 + farm.bytes));
            Ok(format!(
                "Data set of {}\n{}{} farms, {passages} passages, {:.1} MB\n",
                dataset.marker.organisation,
                text::render(&table),
                dataset.farms.len(),
                bytes as f64 / 1e6
            ))
        },
    )
}
