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

/// Records every sample in a store that has not had them, also where a first start was killed
/// before it had recorded them; a sample once deleted stays deleted. Says whether it did.
///
/// # Errors
/// [`SampleError`] with the first sample that could not be recorded.
pub async fn load_when_new(store: &Store) -> Result<bool, SampleError> {
    let mut read = Vec::new();
    for &(id, text) in SAMPLES {
        let model = intake::read(text).map_err(|faults| SampleError::Faulty { id, faults })?;
        read.push((id, model));
    }
    let models = read
        .iter()
        .map(|(id, model)| (*id, model.revision("demo data", "comes with the service")));
    Ok(store.begin_with(models.collect()).await?)
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
