//! Finds the store of objects of an address: in every process that takes part, by the same keys of its environment.

use datafusion::common::DataFusionError;
use datafusion::execution::object_store::ObjectStoreRegistry;
use datafusion::execution::runtime_env::{RuntimeEnv, RuntimeEnvBuilder};
use object_store::ObjectStore;
use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};
use url::Url;

/// Stores by scheme and host, each made when it is first asked for.
#[derive(Debug, Default)]
struct Stores(Mutex<HashMap<String, Arc<dyn ObjectStore>>>);

/// The store behind an address; keys and the like are those of the environment, `AWS_...`.
///
/// # Errors
/// When the address is of no store that is known.
pub fn store_of(url: &Url) -> object_store::Result<(Arc<dyn ObjectStore>, object_store::path::Path)> {
    let keys = std::env::vars().filter(|(name, _)| name.starts_with("AWS_"));
    let keys = keys.map(|(name, value)| (name.to_ascii_lowercase(), value));
    let (store, path) = object_store::parse_url_opts(url, keys)?;
    Ok((Arc::from(store), path))
}

fn key(url: &Url) -> String {
    url[..url::Position::BeforePath].to_owned()
}

impl ObjectStoreRegistry for Stores {
    fn register_store(&self, url: &Url, store: Arc<dyn ObjectStore>) -> Option<Arc<dyn ObjectStore>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).insert(key(url), store)
    }

    fn get_store(&self, url: &Url) -> datafusion::error::Result<Arc<dyn ObjectStore>> {
        let mut known = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(store) = known.get(&key(url)) {
            return Ok(store.clone());
        }
        let (store, _) = store_of(url).map_err(|error| DataFusionError::ObjectStore(Box::new(error)))?;
        known.insert(key(url), store.clone());
        Ok(store)
    }
}

/// A runtime of the engine that finds stores by their addresses.
///
/// # Errors
/// When the engine refuses its own settings.
pub fn runtime() -> datafusion::error::Result<Arc<RuntimeEnv>> {
    RuntimeEnvBuilder::new().with_object_store_registry(Arc::new(Stores::default())).build_arc()
}
