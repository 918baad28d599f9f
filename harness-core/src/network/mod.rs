//! The DC operating point of a network of sources, conductors and loads.
//!
//! Feed and return are ordinary conductors, so shared returns count by themselves. A network is
//! made ready once ([`Prepared`]) and solved for any set of loads. Of two possible operating
//! points the one at high volts is found; where constant-power loads ask for more than the
//! wires can carry, that is a result of its own, with the load at which the volts collapse.
//!
//! Reading order: what a network is ([`Network`], [`NetworkFault`]), what comes out
//! ([`Outcome`]), then how: merge, layout, sweep for trees, Newton for loops, balance.

mod elements;
mod fault;
mod outcome;
mod merge;
pub(crate) mod layout;
mod load_table;
mod fold;
mod sweep;
mod ordering;
mod factor;
mod newton;
mod balance;
mod prepared;
pub mod assembly;
#[cfg(test)]
mod tests;

pub use elements::{Behavior, Conductor, Element, Load, MAX_ELEMENTS, Network, Source};
pub use fault::NetworkFault;
pub use outcome::{Collapse, NotEvaluated, Outcome, Solution};
pub use prepared::{Prepared, Scratch, Settling};
pub use sweep::Taken;

/// Error of the volts, in parts of the largest, at which an iteration counts as settled.
const SETTLED: f64 = 2e-15;

/// Whether the changes still to come, judged by the ratio of the last two, are below rounding.
fn has_settled(change: f64, last_change: f64, volts_scale: f64) -> bool {
    let ratio = if last_change.is_finite() {
        (change / last_change).min(0.9)
    } else {
        0.9
    };
    change == 0.0 || change * ratio / (1.0 - ratio) <= SETTLED * volts_scale
}

/// Whether changes below `rounding`, in parts of the volts, no longer halve: they are rounding.
fn has_stalled(change: f64, last_change: f64, rounding: f64, volts_scale: f64) -> bool {
    change <= rounding * volts_scale && change > 0.5 * last_change
}
