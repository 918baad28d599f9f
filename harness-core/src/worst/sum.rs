//! What is looked for on every boat: a sum of the currents of loads.

/// A constant and a factor for the current of each load.
#[derive(Clone, Debug, PartialEq)]
pub struct Sum {
    /// What is there without any load.
    pub constant: f64,
    /// One factor for each load of the system.
    pub factors: Vec<f64>,
}

impl Sum {
    /// The same with its sign turned: its greatest is the other's least.
    #[must_use]
    pub fn turned(&self) -> Self {
        Self {
            constant: -self.constant,
            factors: self.factors.iter().map(|factor| -factor).collect(),
        }
    }

    /// What makes two sums the same.
    pub(super) fn bits(&self) -> Vec<u64> {
        let factors = self.factors.iter().map(|factor| factor.to_bits());
        factors.chain([self.constant.to_bits()]).collect()
    }

    /// Its terms that are not nothing.
    pub(super) fn terms(&self) -> Terms {
        let numbered = self.factors.iter().copied().enumerate();
        Terms {
            constant: self.constant,
            factors: numbered.filter(|(_, factor)| *factor != 0.0).collect(),
        }
    }
}

/// A sum with only the loads it holds.
pub(super) struct Terms {
    constant: f64,
    factors: Vec<(usize, f64)>,
}

impl Terms {
    /// Its value at these currents.
    pub(super) fn of(&self, amps: &[f64]) -> f64 {
        // Four sums side by side, so that one need not wait for the other.
        let mut sums = [self.constant, 0.0, 0.0, 0.0];
        let (fours, rest) = self.factors.as_chunks::<4>();
        // Whole fours by themselves: only then the sums are not written to memory in between.
        for four in fours {
            for (sum, (load, factor)) in sums.iter_mut().zip(four) {
                *sum += factor * amps[*load];
            }
        }
        for (sum, (load, factor)) in sums.iter_mut().zip(rest) {
            *sum += factor * amps[*load];
        }
        (sums[0] + sums[1]) + (sums[2] + sums[3])
    }
}
