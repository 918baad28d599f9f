//! A network made ready once, then solved for as many sets of loads as needed.

use std::sync::OnceLock;

use super::balance::{load_volts_at, spread};
use super::layout::Layout;
use super::newton::{Equations, MOST_STEPS, NewtonEnd, NewtonScratch};
use super::sweep::{Sweep, SweepEnd, SweepScratch, Taken};
use super::{Behavior, Collapse, Network, NetworkFault, NotEvaluated, Outcome};
use crate::units::Volts;

/// A network whose topology is worked out; it never changes, so threads may share it.
#[derive(Debug)]
pub struct Prepared {
    network: Network,
    layout: Layout,
    /// Where the links form a tree.
    sweep: Option<Sweep>,
    /// Made when first needed; for trees that is seldom.
    equations: OnceLock<Result<Equations, usize>>,
}

/// Room for one solve at a time, to be used again and again.
#[derive(Clone, Debug, Default)]
pub struct Scratch {
    sweep: SweepScratch,
    newton: NewtonScratch,
    drop: Vec<f64>,
}

/// How one solve ended; the volts of a settled one are in the [`Scratch`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Settling {
    /// There is an operating point, found in this many sweeps and Newton steps.
    Settled {
        /// Sweeps and Newton steps taken.
        iterations: usize,
    },
    /// As [`Outcome::NoOperatingPoint`].
    NoOperatingPoint(Collapse),
    /// As [`Outcome::NotEvaluated`].
    NotEvaluated(NotEvaluated),
}

impl Prepared {
    /// Checks the network, merges what has no resistance, and orders the work.
    ///
    /// # Errors
    /// Every number, node, loop or part that leaves volts or currents undefined.
    pub fn new(network: &Network) -> Result<Self, Vec<NetworkFault>> {
        let faults = network.faults();
        if !faults.is_empty() {
            return Err(faults);
        }
        let layout = Layout::new(network)?;
        let equations = OnceLock::new();
        let sweep = if layout.is_tree {
            Some(Sweep::new(&layout, &network.loads))
        } else {
            let made = Equations::new(&layout, &network.loads)
                .map_err(|entries| vec![NetworkFault::TooTangled { entries }])?;
            equations.get_or_init(|| Ok(made));
            None
        };
        Ok(Self {
            network: network.clone(),
            layout,
            sweep,
            equations,
        })
    }

    /// Whether conductors and sources form a tree, none beside another, so that each current has one
    /// way to go.
    pub fn has_one_way(&self) -> bool {
        self.layout.has_one_way
    }

    /// The network as given.
    pub fn network(&self) -> &Network {
        &self.network
    }

    /// Solves with every load drawing what it states.
    pub fn solve(&self, scratch: &mut Scratch) -> Outcome {
        self.outcome(scratch, None)
    }

    /// Solves with `shares[load]` of what each load states: 0 is absent, 1 is all of it.
    /// For a resistance load it is the share of its conductance.
    ///
    /// # Panics
    /// If there is not one share for each load.
    pub fn solve_shares(&self, scratch: &mut Scratch, shares: &[f64]) -> Outcome {
        self.outcome(scratch, Some(shares))
    }

    fn outcome(&self, scratch: &mut Scratch, shares: Option<&[f64]>) -> Outcome {
        match self.settle(scratch, shares) {
            Settling::Settled { iterations } => Outcome::Solved(spread(
                &self.network,
                &self.layout,
                &scratch.drop,
                shares,
                iterations,
            )),
            Settling::NoOperatingPoint(collapse) => Outcome::NoOperatingPoint(collapse),
            Settling::NotEvaluated(reason) => Outcome::NotEvaluated(reason),
        }
    }

    /// Solves without writing out every volt and current: ask [`Self::load_volts`] and
    /// [`Self::node_volts`] for those that matter. `None` means every share is 1.
    ///
    /// # Panics
    /// If shares are given, but not one for each load.
    pub fn settle(&self, scratch: &mut Scratch, shares: Option<&[f64]>) -> Settling {
        if let Some(shares) = shares {
            assert_eq!(
                shares.len(),
                self.network.loads.len(),
                "one share for each load"
            );
            if self.layout.needs_loads
                && let Some(node) = self.layout.floating_node(&self.network.loads, shares)
            {
                return Settling::NotEvaluated(NotEvaluated::NodeFloats { node });
            }
        }
        if let Some(load) = self.shorted_power_load(shares) {
            let collapse = Collapse {
                load,
                share: 0.0,
                volts: Volts::ZERO,
            };
            return Settling::NoOperatingPoint(collapse);
        }
        scratch.drop.resize(self.layout.clusters.count, 0.0);
        let mut sweeps_taken = 0;
        if let Some(sweep) = &self.sweep {
            match sweep.run(&mut scratch.sweep, shares, &mut scratch.drop) {
                SweepEnd::Settled(iterations) => return Settling::Settled { iterations },
                SweepEnd::GivenUp(sweeps) => sweeps_taken = sweeps,
            }
        }
        let equations = self
            .equations
            .get_or_init(|| Equations::new(&self.layout, &self.network.loads));
        let equations = match equations {
            Ok(equations) => equations,
            Err(entries) => {
                let entries = *entries;
                return Settling::NotEvaluated(NotEvaluated::TooTangled { entries });
            }
        };
        match equations.run(&mut scratch.newton, shares, &mut scratch.drop) {
            NewtonEnd::Settled(steps) => Settling::Settled {
                iterations: sweeps_taken + steps,
            },
            NewtonEnd::Collapsed(collapse) => Settling::NoOperatingPoint(collapse),
            NewtonEnd::NotSettled => Settling::NotEvaluated(NotEvaluated::NotSettled {
                iterations: MOST_STEPS,
            }),
        }
    }

    /// Volts that given currents, one for each load, take from each load, whatever the loads state
    /// and the sources give; for several sets of currents at once. `None` where conductors and
    /// sources form no tree.
    ///
    /// # Panics
    /// If there is not one current for each load.
    pub fn taken<'r, const SETS: usize>(
        &self,
        amps: &[[f64; SETS]],
        room: &'r mut Taken<SETS>,
    ) -> Option<&'r [[f64; SETS]]> {
        assert_eq!(
            amps.len(),
            self.network.loads.len(),
            "one current for each load"
        );
        Some(self.sweep.as_ref()?.taken(amps, room))
    }

    /// Volts at a load after a settled solve.
    pub fn load_volts(&self, scratch: &Scratch, load: usize) -> Volts {
        Volts::new(load_volts_at(
            &self.layout,
            &scratch.drop,
            &self.network.loads[load],
        ))
    }

    /// Volts of a node above the reference after a settled solve.
    pub fn node_volts(&self, scratch: &Scratch, node: usize) -> Volts {
        let cluster = self.layout.clusters.of_node[node] as usize;
        Volts::new(self.layout.node_base[node] - scratch.drop[cluster])
    }

    /// A constant-power load both of whose ends are held at the same volts.
    fn shorted_power_load(&self, shares: Option<&[f64]>) -> Option<usize> {
        let clusters = &self.layout.clusters;
        self.network
            .loads
            .iter()
            .enumerate()
            .position(|(index, load)| {
                let Behavior::Power(power) = load.behavior else {
                    return false;
                };
                let share = shares.map_or(1.0, |shares| shares[index]);
                clusters.of_node[load.from] == clusters.of_node[load.to]
                    && clusters.offset[load.from] == clusters.offset[load.to]
                    && power.value() * share != 0.0
            })
    }
}
