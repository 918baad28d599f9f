//! Boat models that come with the service, so that a new store shows the tool at work.

use crate::error::Fault;
use crate::intake;
use crate::store::{Store, StoreError};

/// Id and file of each sample.
pub const SAMPLES: &[(&str, &str)] = &[];

/// A sample could not be loaded.
#[derive(Debug, thiserror::Error)]
pub enum SampleError {
    /// The file is not a boat model.
    #[error("sample `{id}` is not a boat model: {}", list(faults))]
    Faulty {
        /// The sample.
        id: &'static str,
        /// What is wrong with it.
        faults: Vec<Fault>,
    },
    /// The store failed.
    #[error(transparent)]
    Store(#[from] StoreError),
}

fn list(faults: &[Fault]) -> String {
    faults
        .iter()
        .map(Fault::to_string)
        .collect::<Vec<_>>()
        .join("; ")
}

/// Records every sample when the store has just been made; an older store is left alone, so that
/// a sample once deleted stays deleted.
///
/// # Errors
/// [`SampleError`] with the first sample that could not be recorded.
pub async fn load_when_new(store: &Store) -> Result<(), SampleError> {
    if store.is_new() {
        for &(id, text) in SAMPLES {
            load(store, id, text).await?;
        }
    }
    Ok(())
}

async fn load(store: &Store, id: &'static str, text: &str) -> Result<(), SampleError> {
    let model = intake::read(text).map_err(|faults| SampleError::Faulty { id, faults })?;
    let revision = model.revision("demo data", "comes with the service");
    store.create(id, revision).await?;
    Ok(())
}
