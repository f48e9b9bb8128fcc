//! Brings the farms of one data set into another of the same organisation: from a folder to a store of objects, for one.

use crate::dataset::{Dataset, Farm};
use crate::place::Place;
use anyhow::{Context, bail};
use host::report::exchange::dataset::{MARKER, Marker};
use serde::Serialize;
use std::collections::BTreeMap;

/// What was carried.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Carried {
    /// Farms brought up to date.
    pub farms: usize,
    /// Farms that stood there as they are here.
    pub as_they_were: usize,
    /// Files written.
    pub files: usize,
}

/// Carries every farm that is whole here and is not there as it is here. As at the farm's own export, its own row goes
/// first and comes last, so that what is broken off is no whole farm there.
///
/// # Errors
/// When the other place is of another organisation, holds another store under a farm's code, or cannot be written.
pub async fn carry(from: &Dataset, to: &Place) -> anyhow::Result<Carried> {
    match to.read(MARKER).await? {
        None => to.put(MARKER, serde_json::to_vec_pretty(&from.marker)?).await?,
        Some(bytes) => {
            let there: Marker = serde_json::from_slice(&bytes).context(MARKER)?;
            if there != from.marker {
                bail!("{} is of {:?}, not of {:?}", to.url, there.organisation, from.marker.organisation);
            }
        }
    }
    let there = Dataset::open(to.clone()).await?;
    let known: BTreeMap<&str, &Farm> = there.farms.iter().map(|farm| (farm.code.as_str(), farm)).collect();
    let mut done = Carried::default();
    for farm in &from.farms {
        match known.get(farm.code.as_str()) {
            Some(same) if same.content == farm.content => done.as_they_were += 1,
            Some(other) if other.store != farm.store => {
                bail!(
                    "farm {} there comes from another store: one of the two needs another farm_code",
                    farm.code
                )
            }
            _ => {
                done.files += bring(&from.place, to, &farm.code).await?;
                done.farms += 1;
            }
        }
    }
    Ok(done)
}

async fn bring(from: &Place, to: &Place, code: &str) -> anyhow::Result<usize> {
    let own = format!("farms/farm={code}/farms.parquet");
    to.remove(&own).await?;
    let mut files = 0;
    for table in ["animals", "cases", "passages", "scores", "work"] {
        let folder = format!("{table}/farm={code}");
        let here: Vec<String> = from.list(&folder).await?.into_iter().map(|object| object.name).collect();
        for gone in to.list(&folder).await?.into_iter().filter(|object| !here.contains(&object.name)) {
            to.remove(&gone.name).await?;
        }
        for name in here {
            let bytes = from.read(&name).await?.with_context(|| name.clone())?;
            if to.read(&name).await?.as_ref() != Some(&bytes) {
                to.put(&name, bytes).await?;
                files += 1;
            }
        }
    }
    let row = from.read(&own).await?.with_context(|| own.clone())?;
    to.put(&own, row).await?;
    Ok(files + 1)
}
