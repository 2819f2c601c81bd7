//! Uploaded files, named by the SHA-256 of their content, in a folder or an S3 bucket. Never overwritten: the same
//! name is the same content.

use std::path::Path;
use std::sync::Arc;

use bytes::Bytes;
use object_store::path::Path as StorePath;
use object_store::{ObjectStore, ObjectStoreExt, PutMode, PutOptions, PutPayload};

use crate::error::OpError;

/// The file store.
#[derive(Clone)]
pub struct Blobs(Arc<dyn ObjectStore>);

impl Blobs {
    /// A folder, made when it is missing.
    ///
    /// # Errors
    /// In words, when the folder can't be used.
    pub fn folder(path: &Path) -> Result<Self, String> {
        std::fs::create_dir_all(path).map_err(|error| format!("{}: {error}", path.display()))?;
        let store = object_store::local::LocalFileSystem::new_with_prefix(path)
            .map_err(|error| format!("{}: {error}", path.display()))?
            .with_fsync(true);
        Ok(Self(Arc::new(store)))
    }

    /// An S3 bucket, `s3://bucket/prefix`; keys, region and endpoint come from the usual `AWS_*` variables.
    ///
    /// # Errors
    /// In words, when the address or the variables don't do.
    pub fn s3(address: &str) -> Result<Self, String> {
        let url = url::Url::parse(address).map_err(|error| format!("{address}: {error}"))?;
        let bucket = url
            .host_str()
            .ok_or_else(|| format!("{address}: no bucket in it"))?;
        let store = object_store::aws::AmazonS3Builder::from_env()
            .with_bucket_name(bucket)
            .build()
            .map_err(|error| format!("{address}: {error}"))?;
        let prefix = url.path().trim_matches('/');
        if prefix.is_empty() {
            Ok(Self(Arc::new(store)))
        } else {
            Ok(Self(Arc::new(object_store::prefix::PrefixStore::new(
                store, prefix,
            ))))
        }
    }

    /// In memory; for tests.
    pub fn memory() -> Self {
        Self(Arc::new(object_store::memory::InMemory::new()))
    }

    /// Stores content under its hash; storing it again does nothing.
    ///
    /// # Errors
    /// `Unavailable` when the store can't be reached.
    pub async fn put(&self, sha256: &str, content: Bytes) -> Result<(), OpError> {
        let options = PutOptions {
            mode: PutMode::Create,
            ..PutOptions::default()
        };
        match self
            .0
            .put_opts(&place(sha256), PutPayload::from_bytes(content), options)
            .await
        {
            Ok(_) | Err(object_store::Error::AlreadyExists { .. }) => Ok(()),
            Err(error) => Err(unreachable(&error)),
        }
    }

    /// Content by its hash.
    ///
    /// # Errors
    /// `NotFound`; `Unavailable` when the store can't be reached.
    pub async fn get(&self, sha256: &str) -> Result<Bytes, OpError> {
        match self.0.get(&place(sha256)).await {
            Ok(found) => found.bytes().await.map_err(|error| unreachable(&error)),
            Err(object_store::Error::NotFound { .. }) => Err(OpError::NotFound("the document")),
            Err(error) => Err(unreachable(&error)),
        }
    }
}

/// `ab/cd/abcd…`: no folder gets too full.
fn place(sha256: &str) -> StorePath {
    let (a, rest) = sha256.split_at_checked(2).unwrap_or((sha256, ""));
    let (b, _) = rest.split_at_checked(2).unwrap_or((rest, ""));
    StorePath::from(format!("{a}/{b}/{sha256}"))
}

fn unreachable(error: &object_store::Error) -> OpError {
    tracing::error!(%error, "blobs.unreachable");
    OpError::Unavailable(
        "The document store is not reachable just now. Nothing was saved; please try again.",
    )
}
