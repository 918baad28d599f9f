//! Which wires end in which cavity, whatever boat has them.

use crate::model::{BoatModel, Connector, Index, Pin, Wire};
use std::collections::BTreeMap;

/// The wires with an end in each cavity, in stated order; cavities without one are left out.
pub(super) type CavityEnds = BTreeMap<(Index<Connector>, u32), Vec<Index<Wire>>>;

pub(super) fn of(model: &BoatModel) -> CavityEnds {
    let mut ends = CavityEnds::new();
    for (wire, stated) in model.wires.iter() {
        for pin in [stated.from, stated.to] {
            if let Pin::Cavity(connector, cavity) = pin {
                ends.entry((connector, cavity)).or_default().push(wire);
            }
        }
    }
    ends
}

/// The cavities of one connector that wires end in, in order of their numbers.
pub(super) fn within(
    ends: &CavityEnds,
    connector: Index<Connector>,
) -> impl Iterator<Item = (u32, &[Index<Wire>])> {
    ends.range((connector, 0)..=(connector, u32::MAX))
        .map(|((_, cavity), wires)| (*cavity, wires.as_slice()))
}
