//! A folder, or a place in a store of objects, by name.

use crate::stores::store_of;
use anyhow::{Context, anyhow};
use futures_util::TryStreamExt;
use object_store::path::Path as ObjectPath;
use object_store::{ObjectMeta, ObjectStore, ObjectStoreExt, PutPayload};
use std::sync::Arc;
use url::Url;

/// Where a data set or results lie.
#[derive(Clone, Debug)]
pub struct Place {
    /// Its address, ending in a slash.
    pub url: Url,
    /// The store of objects.
    pub store: Arc<dyn ObjectStore>,
    prefix: ObjectPath,
}

/// An object below a place.
#[derive(Clone, Debug)]
pub struct Object {
    /// Its name below the place.
    pub name: String,
    /// What the store says of it.
    pub meta: ObjectMeta,
}

impl Place {
    /// A folder of this machine, made where it is not there, or an address.
    ///
    /// # Errors
    /// As [`Place::of`], or when the folder cannot be made.
    pub fn made(text: &str) -> anyhow::Result<Self> {
        if !text.contains("://") {
            std::fs::create_dir_all(text).with_context(|| text.to_owned())?;
        }
        Self::of(text)
    }

    /// A folder of this machine, or an address such as `s3://bucket/data`, whose store takes its keys from the
    /// environment.
    ///
    /// # Errors
    /// When it is no folder that is there, nor an address of a store that is known.
    pub fn of(text: &str) -> anyhow::Result<Self> {
        let url = if text.contains("://") {
            Url::parse(&format!("{}/", text.trim_end_matches('/')))?
        } else {
            let folder = std::path::absolute(text)?.canonicalize().with_context(|| text.to_owned())?;
            Url::from_directory_path(&folder).map_err(|()| anyhow!("{text} is no folder"))?
        };
        let (store, prefix) = store_of(&url).with_context(|| text.to_owned())?;
        Ok(Self { url, store, prefix })
    }

    fn at(&self, name: &str) -> ObjectPath {
        name.split('/').fold(self.prefix.clone(), |path, part| path.join(part))
    }

    /// All objects below a folder of the place.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn list(&self, folder: &str) -> anyhow::Result<Vec<Object>> {
        let under = if folder.is_empty() { self.prefix.clone() } else { self.at(folder) };
        let found: Vec<ObjectMeta> = self.store.list(Some(&under)).try_collect().await?;
        let mut objects: Vec<_> = found
            .into_iter()
            .filter_map(|meta| {
                let below = meta.location.prefix_match(&self.prefix)?;
                let name = below.map(|part| part.as_ref().to_owned()).collect::<Vec<_>>().join("/");
                Some(Object { name, meta })
            })
            .collect();
        objects.sort_by(|a, b| a.name.cmp(&b.name));
        Ok(objects)
    }

    /// An object's bytes; `None` where there is none.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn read(&self, name: &str) -> anyhow::Result<Option<Vec<u8>>> {
        match self.store.get(&self.at(name)).await {
            Ok(found) => Ok(Some(found.bytes().await?.to_vec())),
            Err(object_store::Error::NotFound { .. }) => Ok(None),
            Err(error) => Err(error.into()),
        }
    }

    /// Puts an object in place whole.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub async fn put(&self, name: &str, bytes: Vec<u8>) -> anyhow::Result<()> {
        self.store.put(&self.at(name), PutPayload::from(bytes)).await?;
        Ok(())
    }

    /// Takes an object away.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub async fn remove(&self, name: &str) -> anyhow::Result<()> {
        match self.store.delete(&self.at(name)).await {
            Err(error) if !matches!(error, object_store::Error::NotFound { .. }) => Err(error.into()),
            _ => Ok(()),
        }
    }
}
