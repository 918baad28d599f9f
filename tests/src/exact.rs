//! Linear networks in exact rational arithmetic: no rounding, no iteration.
//!
//! Written unlike the core on purpose: every node and every source or join is an unknown
//! (modified nodal analysis: Ho, Ruehli, Brennan, "The modified nodal approach to network
//! analysis", IEEE Trans. Circuits and Systems 22(6), 1975; from memory), and plain Gaussian
//! elimination solves them as fractions of whole numbers.

use std::collections::BTreeMap;

use harness_core::network::{Behavior, Network};
use num_rational::BigRational;

/// Digits beyond which two doubles cannot agree.
const MOST_DIGITS: u32 = 16;

/// The fraction a double stands for, exactly.
fn fraction(value: f64) -> BigRational {
    BigRational::from_float(value).expect("networks hold finite numbers")
}

/// Equations as rows of non-zero terms.
struct Equations {
    rows: Vec<BTreeMap<usize, BigRational>>,
    right: Vec<BigRational>,
}

impl Equations {
    fn add(&mut self, row: usize, column: usize, value: BigRational) {
        let zero = fraction(0.0);
        let term = self.rows[row].entry(column).or_insert_with(|| zero.clone());
        *term += value;
        if *term == zero {
            self.rows[row].remove(&column);
        }
    }

    /// An unknown current from `from` to `to`, in the sums of both nodes.
    fn add_current(&mut self, from: usize, to: usize) -> usize {
        let unknown = self.rows.len();
        self.rows.push(BTreeMap::new());
        self.right.push(fraction(0.0));
        self.add(from, unknown, fraction(1.0));
        self.add(to, unknown, fraction(-1.0));
        unknown
    }

    fn add_resistance(&mut self, from: usize, to: usize, ohms: f64) {
        let conductance = fraction(1.0) / fraction(ohms);
        for (row, other) in [(from, to), (to, from)] {
            self.add(row, row, conductance.clone());
            self.add(row, other, -conductance.clone());
        }
    }

    /// Gaussian elimination, shortest row first.
    fn solve(mut self) -> Vec<BigRational> {
        let mut left: Vec<usize> = (0..self.rows.len()).collect();
        let mut pivots = Vec::with_capacity(left.len());
        while let Some(place) = (0..left.len()).min_by_key(|&place| self.rows[left[place]].len()) {
            let row = left.swap_remove(place);
            let terms = self.rows[row].clone();
            let (&column, pivot) = terms.first_key_value().expect("the network is connected");
            for &other in &left {
                let Some(value) = self.rows[other].get(&column) else {
                    continue;
                };
                let factor = value / pivot;
                for (&column, value) in &terms {
                    self.add(other, column, -(&factor * value));
                }
                let right = &factor * &self.right[row];
                self.right[other] -= right;
            }
            pivots.push((row, column));
        }
        let mut solution = vec![fraction(0.0); self.rows.len()];
        for &(row, column) in pivots.iter().rev() {
            let mut value = self.right[row].clone();
            for (&other, factor) in &self.rows[row] {
                if other != column {
                    value -= factor * &solution[other];
                }
            }
            solution[column] = value / &self.rows[row][&column];
        }
        solution
    }
}

/// Exact volts of every node.
///
/// # Panics
/// On constant-power loads: their networks are not linear.
pub fn node_volts(network: &Network) -> Vec<BigRational> {
    let zero = fraction(0.0);
    let nodes = network.node_count;
    let mut equations = Equations {
        rows: vec![BTreeMap::new(); nodes],
        right: vec![zero; nodes],
    };
    for conductor in &network.conductors {
        let ohms = conductor.resistance.value();
        if ohms > 0.0 {
            equations.add_resistance(conductor.from, conductor.to, ohms);
        } else {
            let current = equations.add_current(conductor.from, conductor.to);
            equations.add(current, conductor.from, fraction(1.0));
            equations.add(current, conductor.to, fraction(-1.0));
        }
    }
    for source in &network.sources {
        // v(to) - v(from) + R i = E, with i flowing inside from minus to plus.
        let current = equations.add_current(source.from, source.to);
        equations.add(current, source.to, fraction(1.0));
        equations.add(current, source.from, fraction(-1.0));
        equations.add(current, current, fraction(source.resistance.value()));
        equations.right[current] = fraction(source.emf.value());
    }
    for load in &network.loads {
        match load.behavior {
            Behavior::Current(current) => {
                equations.right[load.from] -= fraction(current.value());
                equations.right[load.to] += fraction(current.value());
            }
            Behavior::Resistance(resistance) => {
                equations.add_resistance(load.from, load.to, resistance.value());
            }
            Behavior::Power(_) => panic!("a constant-power load is not linear"),
        }
    }
    // The sum at the reference follows from the others; its volts are what is known instead.
    equations.rows[network.reference] = BTreeMap::from([(network.reference, fraction(1.0))]);
    equations.right[network.reference] = fraction(0.0);
    let mut solution = equations.solve();
    solution.truncate(nodes);
    solution
}

/// Digits to which a double agrees with an exact value: the whole part of
/// `-log10(|difference| / |exact|)`, at most 16.
pub fn agreeing_digits(value: f64, exact: &BigRational) -> u32 {
    let zero = fraction(0.0);
    let size = |value: BigRational| if value < zero { -value } else { value };
    let mut difference = size(fraction(value) - exact);
    let exact = size(exact.clone());
    let ten = fraction(10.0);
    (0..MOST_DIGITS)
        .find(|_| {
            difference = &difference * &ten;
            difference > exact
        })
        .unwrap_or(MOST_DIGITS)
}
