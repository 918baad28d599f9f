//! Searches of systems from the same boats, taken over from an earlier study where nothing changed.

use super::candidates::{Candidates, Gathering};
use super::processors::on_all_processors;
use super::systems::System;
use crate::boats::Way;
use std::sync::Arc;

/// What was found of each list of systems, in their order, and the boats that the searches started
/// from.
#[derive(Debug)]
pub(super) struct Searched<F> {
    pub starts: Vec<Way>,
    pub found: Vec<Arc<F>>,
}

impl<F> Default for Searched<F> {
    fn default() -> Self {
        Self {
            starts: Vec::new(),
            found: Vec::new(),
        }
    }
}

impl Gathering<'_> {
    /// Searches each list of systems: on all processors, unless such questions learn from each
    /// other. `earlier` is where an earlier study keeps what the same search found; no search may
    /// hang on more than values of its systems, conditions, and the boats it starts from.
    pub(super) fn search_each<F: Send + Sync>(
        &self,
        lists: &[Vec<&System>],
        starts: Vec<Way>,
        earlier: fn(&Candidates) -> &Searched<F>,
        search: impl Fn(&[&System], &[Way]) -> F + Sync,
    ) -> Searched<F> {
        let anew = |list: &Vec<&System>| Arc::new(search(list, &starts));
        let found = match self.boats.is_quick() {
            true => on_all_processors(lists, |number, list| {
                let known = self.earlier.as_ref().and_then(|found| {
                    found.of_systems(
                        earlier(found.candidates),
                        (number, list),
                        &starts,
                        self.assembly,
                    )
                });
                known.unwrap_or_else(|| anew(list))
            }),
            false => lists.iter().map(anew).collect(),
        };
        Searched { starts, found }
    }
}
