//! Boat models that come with the service, so that a new store shows the tool at work.

use crate::check;
use crate::error::Fault;
use crate::intake;
use crate::store::{Store, StoreError};

/// Id and file of each sample.
pub const SAMPLES: &[(&str, &str)] = &[
    ("launch-92", include_str!("../samples/launch-92.json")),
    ("tender-56", include_str!("../samples/tender-56.json")),
];

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

/// The study of the first sample in five lines; nothing if there is no sample.
pub fn summary() -> Vec<String> {
    let Some((_, text)) = SAMPLES.first() else {
        return Vec::new();
    };
    match check::studied(text) {
        Ok(report) => report.summary().to_vec(),
        Err(faults) => faults,
    }
}

async fn load(store: &Store, id: &'static str, text: &str) -> Result<(), SampleError> {
    let model = intake::read(text).map_err(|faults| SampleError::Faulty { id, faults })?;
    let revision = model.revision("demo data", "comes with the service");
    store.create(id, revision).await?;
    Ok(())
}
