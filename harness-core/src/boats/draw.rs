//! Buildable boats drawn at random, each as likely as any other.
//!
//! All boats are numbered from 0 in the order in which the diagram decides them: at each node
//! those that leave its option out come before those that have it. A number drawn evenly is then
//! one boat drawn evenly, however unevenly the rules spread the boats over the options.

use num_bigint::BigUint;

use super::boat::Boat;
use super::diagram::BoatSet;

/// The boats of a set, numbered, ready to be drawn from.
#[derive(Clone, Debug)]
pub struct Draw<'a> {
    boats: &'a BoatSet,
    /// Boats from each node on, by layer.
    ways_on: Vec<Vec<BigUint>>,
    count: BigUint,
}

impl<'a> Draw<'a> {
    /// From these boats.
    pub fn from(boats: &'a BoatSet) -> Self {
        let ways_on = boats.ways_on();
        let count = ways_on
            .first()
            .and_then(|nodes| nodes.first())
            .cloned()
            .unwrap_or_default();
        Self {
            boats,
            ways_on,
            count,
        }
    }

    /// How many boats there are to draw from.
    pub fn count(&self) -> &BigUint {
        &self.count
    }

    /// One boat; each of them equally likely, as far as `rng` is even. `None` if there is none.
    pub fn boat(&self, rng: &mut fastrand::Rng) -> Option<Boat> {
        self.numbered(&below(&self.count, rng)?)
    }

    /// The boat with a number from 0 to the count, that one left out. Each boat has one number.
    pub fn numbered(&self, number: &BigUint) -> Option<Boat> {
        if *number >= self.count {
            return None;
        }
        let mut boat = Boat::bare();
        let (mut node, mut left) = (0, number.clone());
        for (at, nodes) in self.boats.layers.layers().iter().enumerate() {
            let here = nodes.get(node as usize)?;
            let after = &self.ways_on[at + 1];
            match after.get(here.left_out as usize) {
                Some(without) if left < *without => node = here.left_out,
                without => {
                    if let Some(without) = without {
                        left -= without;
                    }
                    node = here.fitted;
                    boat.add(self.boats.order[at]);
                }
            }
        }
        Some(boat)
    }
}

/// A number from 0 to `count`, that one left out, each equally likely; `None` below 1.
///
/// As many random bits as `count` has are drawn until they make a number below it: fewer than two
/// draws on average, and no remainder that would favor small numbers.
fn below(count: &BigUint, rng: &mut fastrand::Rng) -> Option<BigUint> {
    if *count == BigUint::ZERO {
        return None;
    }
    let bits = count.bits();
    let words = bits.div_ceil(32);
    let spare = words * 32 - bits;
    loop {
        let mut drawn: Vec<u32> = (0..words).map(|_| rng.u32(..)).collect();
        if let Some(highest) = drawn.last_mut() {
            *highest >>= spare;
        }
        let number = BigUint::new(drawn);
        if number < *count {
            return Some(number);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::rules::{OptionIndex, OptionRule, Options};
    use super::*;
    use std::collections::BTreeMap;

    fn set(count: usize, rules: Vec<OptionRule>) -> BoatSet {
        BoatSet::of(&Options::new(count, rules).unwrap()).unwrap()
    }

    fn lopsided() -> BoatSet {
        // Without 0 anything goes (32 boats); with it nothing but 1 (2 boats): an even choice at
        // each option would draw the two far too often.
        let excluded = (2..6).map(|at| OptionRule::Excludes(OptionIndex(0), OptionIndex(at)));
        set(6, excluded.collect())
    }

    #[test]
    fn every_boat_comes_equally_often_where_few_options_decide_much() {
        let boats = lopsided();
        let draw = Draw::from(&boats);
        assert_eq!(*draw.count(), BigUint::from(34u8));
        let mut rng = fastrand::Rng::with_seed(7);
        let rounds = 34_000;
        let mut seen: BTreeMap<Boat, u32> = BTreeMap::new();
        for _ in 0..rounds {
            *seen.entry(draw.boat(&mut rng).unwrap()).or_default() += 1;
        }
        let expected = f64::from(rounds) / 34.0;
        let chi_square: f64 = seen
            .values()
            .map(|&times| {
                let apart = f64::from(times) - expected;
                apart * apart / expected
            })
            .sum();
        assert_eq!(seen.len(), 34);
        // 33 degrees of freedom: an even draw stays below 63.9 but once in a thousand seeds.
        assert!(chi_square < 63.9, "{chi_square}");
    }

    #[test]
    fn a_number_below_a_bound_is_even() {
        let mut rng = fastrand::Rng::with_seed(1);
        for count in [1u32, 2, 3, 5, 7, 17] {
            let bound = BigUint::from(count);
            let mut seen = vec![0u32; count as usize];
            for _ in 0..1000 * count {
                let number = below(&bound, &mut rng).unwrap();
                seen[usize::try_from(number).unwrap()] += 1;
            }
            // Six standard deviations of a count of mean 1000.
            assert!(
                seen.iter().all(|times| times.abs_diff(1000) < 190),
                "{seen:?}"
            );
        }
        assert_eq!(below(&BigUint::ZERO, &mut rng), None);
    }

    #[test]
    fn boats_past_128_bits_are_drawn_and_keep_the_rules() {
        let rules = vec![
            OptionRule::ExactlyOneOf((0..5).map(OptionIndex).collect()),
            OptionRule::OnlyWithAnyOf(OptionIndex(9), vec![OptionIndex(0), OptionIndex(150)]),
        ];
        let options = Options::new(200, rules).unwrap();
        let boats = BoatSet::of(&options).unwrap();
        let draw = Draw::from(&boats);
        let mut rng = fastrand::Rng::with_seed(3);
        let mut with_last = 0;
        for _ in 0..200 {
            let boat = draw.boat(&mut rng).unwrap();
            assert!(options.allow(&boat));
            with_last += u32::from(boat.has(OptionIndex(199)));
        }
        assert!((60..140).contains(&with_last), "{with_last}");
        let none = set(1, vec![OptionRule::ExactlyOneOf(Vec::new())]);
        assert_eq!(Draw::from(&none).boat(&mut rng), None);
    }
}
