//! How many boats go through each node of the diagram, and what follows from it for each option.

use num_bigint::BigUint;

use super::diagram::BoatSet;

impl BoatSet {
    /// The number of ways from each node to the end, by layer; the last entry is the end itself.
    /// Without boats there is nothing to go through: every layer is empty.
    pub(super) fn ways_on(&self) -> Vec<Vec<BigUint>> {
        let end = if self.is_empty() {
            Vec::new()
        } else {
            vec![BigUint::from(1u8)]
        };
        let mut ways = vec![end];
        for layer in self.layers.layers().iter().rev() {
            let after = &ways[ways.len() - 1];
            let of = |arrow: u32| after.get(arrow as usize).cloned().unwrap_or_default();
            let here = layer
                .iter()
                .map(|node| of(node.left_out) + of(node.fitted))
                .collect();
            ways.push(here);
        }
        ways.reverse();
        ways
    }

    /// How many of the boats have each option, exactly, by position of the option. One pass down
    /// and one up, whatever the number of options.
    pub fn counts_with_each(&self) -> Vec<BigUint> {
        let ways_on = self.ways_on();
        let mut with = vec![BigUint::ZERO; self.option_count()];
        // Ways from the start to each node of the layer.
        let mut ways_here = vec![BigUint::from(1u8)];
        for (at, layer) in self.layers.layers().iter().enumerate() {
            let after = &ways_on[at + 1];
            let mut ways_next = vec![BigUint::ZERO; after.len()];
            for (node, ways) in layer.iter().zip(&ways_here) {
                if let Some(next) = ways_next.get_mut(node.left_out as usize) {
                    *next += ways;
                }
                if let Some(next) = ways_next.get_mut(node.fitted as usize) {
                    *next += ways;
                    with[self.order[at].0] += ways * &after[node.fitted as usize];
                }
            }
            ways_here = ways_next;
        }
        with
    }
}

#[cfg(test)]
mod tests {
    use super::super::rules::{OptionIndex, OptionRule, Options};
    use super::*;

    #[test]
    fn shares_counted_by_hand() {
        // 0 requires 1, and 2 free: boats without 0 and 1, with 1, with both, each twice.
        let rules = vec![OptionRule::Requires(OptionIndex(0), OptionIndex(1))];
        let set = BoatSet::of(&Options::new(3, rules).unwrap()).unwrap();
        let counts: Vec<String> = set
            .counts_with_each()
            .iter()
            .map(ToString::to_string)
            .collect();
        assert_eq!(counts, ["2", "4", "3"]);
    }

    #[test]
    fn no_boat_has_anything() {
        let rules = vec![OptionRule::ExactlyOneOf(Vec::new())];
        let set = BoatSet::of(&Options::new(2, rules).unwrap()).unwrap();
        assert_eq!(set.counts_with_each(), [BigUint::ZERO, BigUint::ZERO]);
    }
}
