//! The heaviest, the lightest and the fullest boat: one pass from the last layer up.

use super::boat::Boat;
use super::diagram::BoatSet;
use super::layers::NONE;

impl BoatSet {
    /// The heaviest boat and its weight: the sum of the weights of its options.
    ///
    /// `weights[i]` belongs to option `i`; options past the end of `weights` weigh nothing.
    /// Weights may be negative and must be finite. `None` if there is no boat.
    ///
    /// Among boats of equal weight the one with the fewest options is given, and among those the
    /// one whose option list comes first. Weights are compared as sums in decision order, so
    /// boats that differ only by the rounding of such a sum (about 1e-16 of the largest partial
    /// sum per option) may be ranked either way, but always the same way. The weight returned is
    /// summed in ascending order of the options.
    pub fn heaviest(&self, weights: &[f64]) -> Option<(f64, Boat)> {
        let boat = self.extreme(|option| weights.get(option).copied().unwrap_or(0.0))?;
        Some((weight_of(&boat, weights), boat))
    }

    /// The lightest boat and its weight; like [`BoatSet::heaviest`] in everything else.
    pub fn lightest(&self, weights: &[f64]) -> Option<(f64, Boat)> {
        let boat = self.extreme(|option| -weights.get(option).copied().unwrap_or(0.0))?;
        Some((weight_of(&boat, weights), boat))
    }

    /// The boat with the most options; of several, the one whose option list comes first. `None`
    /// if there is no boat.
    pub fn fullest(&self) -> Option<Boat> {
        self.extreme(|_| 1.0)
    }

    /// The boat with the greatest sum; ties as documented at [`BoatSet::heaviest`].
    fn extreme(&self, weight: impl Fn(usize) -> f64) -> Option<Boat> {
        if self.is_empty() {
            return None;
        }
        let words = self.option_count().div_ceil(64);
        let mut below = Best::end(words);
        for (&option, layer) in self.order.iter().zip(self.layers.layers()).rev() {
            let mut best = Best::with_room_for(layer.len(), words);
            let gain = weight(option.0);
            for node in layer {
                let fits = node.fitted != NONE
                    && (node.left_out == NONE
                        || below.fitting_wins(node.fitted, node.left_out, option.0, gain));
                if fits {
                    best.push(&below, node.fitted, Some(option.0), gain);
                } else {
                    best.push(&below, node.left_out, None, 0.0);
                }
            }
            below = best;
        }
        Some(Boat::from_words(&below.options))
    }
}

fn weight_of(boat: &Boat, weights: &[f64]) -> f64 {
    boat.options()
        .map(|option| weights.get(option.0).copied().unwrap_or(0.0))
        // Not sum(): that of no options is -0.
        .fold(0.0, |sum, weight| sum + weight)
}

/// The best way on from each node of one layer.
struct Best {
    words: usize,
    sums: Vec<f64>,
    fitted: Vec<u32>,
    /// `words` words of option bits for each node.
    options: Vec<u64>,
}

impl Best {
    fn end(words: usize) -> Self {
        Self {
            words,
            sums: vec![0.0],
            fitted: vec![0],
            options: vec![0; words],
        }
    }

    fn with_room_for(nodes: usize, words: usize) -> Self {
        Self {
            words,
            sums: Vec::with_capacity(nodes),
            fitted: Vec::with_capacity(nodes),
            options: Vec::with_capacity(nodes * words),
        }
    }

    fn options_of(&self, node: u32) -> &[u64] {
        let at = node as usize * self.words;
        &self.options[at..at + self.words]
    }

    /// Whether fitting `option` and going on from `with` beats going on from `without`.
    fn fitting_wins(&self, with: u32, without: u32, option: usize, gain: f64) -> bool {
        let (a, b) = (with as usize, without as usize);
        let by_weight = (self.sums[a] + gain).total_cmp(&self.sums[b]);
        let by_fewest = self.fitted[b].cmp(&(self.fitted[a] + 1));
        let order = by_weight.then(by_fewest);
        if order.is_ne() {
            return order.is_gt();
        }
        // Equally many: the list with the smallest option that only one of them has comes first.
        for word in 0..self.words {
            let mut on = self.options_of(with)[word];
            if option / 64 == word {
                on |= 1 << (option % 64);
            }
            let differ = on ^ self.options_of(without)[word];
            if differ != 0 {
                return on >> differ.trailing_zeros() & 1 == 1;
            }
        }
        false
    }

    fn push(&mut self, below: &Self, node: u32, option: Option<usize>, gain: f64) {
        let from = node as usize;
        self.sums.push(below.sums[from] + gain);
        self.fitted
            .push(below.fitted[from] + u32::from(option.is_some()));
        let start = self.options.len();
        self.options.extend_from_slice(below.options_of(node));
        if let Some(option) = option {
            self.options[start + option / 64] |= 1 << (option % 64);
        }
    }
}
