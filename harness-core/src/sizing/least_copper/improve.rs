//! Local search: one unit a few sizes up and others down, or one down and others up.

use super::assignment::{Assignment, Valued};
use super::tables::Tables;

/// By how many sizes a unit is moved to see what the others make of it.
const MOVES: [isize; 5] = [1, 2, 3, -1, -2];
/// Rounds over all units at most; three or four are the rule.
const MOST_ROUNDS: usize = 20;
/// What counts as lighter, in parts of the mass: more than rounding.
pub(super) const LIGHTER: f64 = 1e-9;

/// Improves sizes that meet every row and that no single unit can be lowered from, until no move
/// makes them lighter.
pub(super) fn improve(
    tables: &Tables,
    ceilings: &[f64],
    unit_prices: &[f64],
    mut best: Assignment,
) -> Assignment {
    let mut shared = vec![false; tables.units.len()];
    for _ in 0..MOST_ROUNDS {
        let before_kg = best.mass_kg;
        for at in 0..tables.units.len() {
            if tables.units[at].rows.is_empty() {
                continue;
            }
            for by in MOVES {
                let choice = best.choices[at].checked_add_signed(by);
                let Some(choice) = choice.filter(|&to| to < tables.units[at].choices.len()) else {
                    continue;
                };
                let mut moved = best.clone();
                moved.move_to(tables, at, choice);
                if by > 0 {
                    // Only what shares a row with it can have room now.
                    let sharing = sharing_a_row(tables, at, &mut shared);
                    moved.trim(tables, ceilings, sharing.into_iter(), Valued::ByMass);
                } else if moved.repair(tables, ceilings, Some(at), Valued::ByPrice(unit_prices)) {
                    let others = (0..tables.units.len()).filter(|other| *other != at);
                    moved.trim(tables, ceilings, others, Valued::ByMass);
                } else {
                    continue;
                }
                if moved.mass_kg < best.mass_kg * (1.0 - LIGHTER) {
                    moved.sum_anew(tables);
                    best = moved;
                }
            }
        }
        if best.mass_kg >= before_kg {
            break;
        }
    }
    best
}

/// The other units that count in a row of this one. `seen` is all false, and is left so.
fn sharing_a_row(tables: &Tables, at: usize, seen: &mut [bool]) -> Vec<usize> {
    let mut found = Vec::new();
    seen[at] = true;
    for &(row, _) in &tables.units[at].rows {
        for &other in &tables.row_units[row] {
            if !seen[other] {
                seen[other] = true;
                found.push(other);
            }
        }
    }
    seen[at] = false;
    for &other in &found {
        seen[other] = false;
    }
    found
}
