//! The least copper for all conductors at once: sizes for every segment such that no drop of any
//! load on any boat is over its limit, with the mass that nothing can go below beside them.
//!
//! Nothing here knows boats or wires. A caller states segments with the sizes each may take, and
//! [`Row`]s: the drop of one load on one boat in one state is a sum of one term for each segment
//! on its way, inversely as the area. Boats are too many to state all their rows, so
//! [`solve_with`] asks for those that the present sizes break, until there is none.
//!
//! Method: Lagrangian relaxation (M. L. Fisher, Management Science 27(1), 1981; from memory).
//! Each row gets a price. At given prices every segment has a best size of its own, found by
//! looking at each, and the sum is a lower bound on the mass, whatever the prices. Prices go up on
//! rows that are broken and down on rows with room (subgradient steps: M. Held, P. Wolfe and
//! H. P. Crowder, Mathematical Programming 6, 1974; from memory). The sizes of every step are
//! repaired until all rows are met and trimmed as far as they let it; the lightest are improved
//! by local search. Branching on single sizes then raises the bound, for small instances up to the
//! sizes found, which are so shown to be the best there are. A fixed number of steps and no chance:
//! the same instance has the same answer.
//!
//! Reading order: what is asked ([`Instance`]), what comes out ([`LeastCopper`], [`NotSized`]),
//! then how: tables, assignment, prices, improve, branch, search.

mod instance;
mod answer;
mod tables;
mod assignment;
mod prices;
mod improve;
mod branch;
mod search;
#[cfg(test)]
mod tests;

pub use answer::{GovernedBy, LeastCopper, NotSized, OutOfReach, Sizes};
pub use instance::{Choice, Fault, Instance, Row, Segment, Term};

use search::{Effort, Search};

/// Rounds of further rows before giving up; two to four are the rule.
const MOST_ROUNDS: usize = 200;

/// Sizes for an instance whose rows are all stated.
///
/// # Errors
/// When the instance means nothing, or rows are over their limit even in the largest sizes.
pub fn solve(instance: &Instance) -> Result<LeastCopper, NotSized> {
    check(instance, 0)?;
    let mut search = Search::of(instance);
    search.run(instance, Effort::Full);
    search.run(instance, Effort::Bound);
    Ok(search.answer(instance, 1))
}

/// Sizes for an instance whose rows are found on the way. `broken` is given sizes that meet all
/// rows stated so far and gives rows that these sizes break, none if there are none; rows that
/// they meet are passed over. All rows found stay in the instance, in the order they came, also
/// when there is no answer.
///
/// # Errors
/// As [`solve`], or when further rows keep coming.
pub fn solve_with(
    instance: &mut Instance,
    mut broken: impl FnMut(&Sizes) -> Vec<Row>,
) -> Result<LeastCopper, NotSized> {
    check(instance, 0)?;
    let mut search = Search::of(instance);
    let mut effort = Effort::Quick;
    // Sizes that were found to break nothing.
    let mut passed = None;
    let mut rounds = 0;
    loop {
        search.run(instance, effort);
        let sizes = search.sizes(instance);
        if passed.as_ref() != Some(&sizes) {
            if rounds == MOST_ROUNDS {
                return Err(NotSized::NotSettled { rounds });
            }
            rounds += 1;
            if add_broken(instance, &sizes, broken(&sizes))? {
                search = search.with_more_rows(instance);
                effort = effort.min(Effort::Full);
                continue;
            }
            passed = Some(sizes);
        }
        effort = match effort {
            Effort::Quick => Effort::Full,
            Effort::Full => Effort::Bound,
            Effort::Bound => return Ok(search.answer(instance, rounds)),
        };
    }
}

/// Takes in the rows that these sizes break. Whether there were any.
fn add_broken(
    instance: &mut Instance,
    sizes: &Sizes,
    mut rows: Vec<Row>,
) -> Result<bool, NotSized> {
    let known = instance.rows.len();
    let is_unknown = |term: &Term| term.segment >= sizes.areas_mm2.len();
    // A row that cannot be asked whether it is met stays, to be refused below.
    rows.retain(|row| row.terms.iter().any(is_unknown) || !row.is_met(&sizes.areas_mm2));
    instance.rows.append(&mut rows);
    check(instance, known)?;
    Ok(instance.rows.len() > known)
}

/// That all segments, and the rows from `first_row` on, mean something and can be met.
fn check(instance: &Instance, first_row: usize) -> Result<(), NotSized> {
    let faults = instance.faults(first_row);
    if !faults.is_empty() {
        return Err(NotSized::Malformed(faults));
    }
    let largest_mm2 = instance.largest_mm2();
    let rows = instance.rows.iter().enumerate().skip(first_row);
    let out_of_reach: Vec<_> = rows
        .filter(|(_, row)| !row.is_met(&largest_mm2))
        .map(|(index, row)| OutOfReach {
            row: index,
            least_drop_v: row.drop_v(&largest_mm2),
            limit_v: row.limit_v,
        })
        .collect();
    if out_of_reach.is_empty() {
        Ok(())
    } else {
        Err(NotSized::OutOfReach(out_of_reach))
    }
}
