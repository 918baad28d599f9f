//! What is proposed for each wire, what governed it, and what comes with it.

use crate::model::{Index, Wire};
use crate::rules::{Finding, rule};
use crate::units::{Kilograms, WireSize};
use crate::working::{NotEvaluated, Working};
use std::fmt;

/// What a wire's size follows from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Governor {
    /// This rule, by its code, is broken one size smaller.
    Rule(&'static str),
    /// The contacts of its connectors take no other size.
    Contacts,
    /// Nothing smaller is stocked.
    SmallestStocked,
    /// A wire to a device is no thinner than what the device protects.
    BehindDevice,
}

impl Governor {
    /// What governed, in words.
    pub fn words(self) -> &'static str {
        match self {
            Self::Rule(code) => rule(code).map_or(code, |rule| rule.title),
            Self::Contacts => "contacts of its connectors",
            Self::SmallestStocked => "smallest stocked size",
            Self::BehindDevice => "the wire behind its device (our practice)",
        }
    }
}

/// The size of one wire.
#[derive(Clone, Debug, PartialEq)]
pub struct SizingProposal {
    /// The wire.
    pub wire: Index<Wire>,
    /// Size as stated.
    pub size_now: Option<WireSize>,
    /// The smallest stocked size that serves.
    pub proposed: WireSize,
    /// What its size follows from.
    pub governed_by: Governor,
    /// What is the case one size smaller, in a sentence with numbers; empty for the smallest
    /// stocked size.
    pub because: String,
    /// Mass of the proposed wire less that of the present one; `None` where the present size or
    /// the length is not known.
    pub mass_change: Option<Kilograms>,
}

/// Sizes for the wires of one circuit.
#[derive(Clone, Debug, PartialEq)]
pub struct CircuitSizing {
    /// Each wire sized, in stated order.
    pub wires: Vec<SizingProposal>,
    /// Sum of the changes in mass; `None` where one is not known.
    pub mass_change: Option<Kilograms>,
    /// What the circuit breaks at any size: to be cured by other means.
    pub left: Vec<Finding>,
    /// What fails with the proposed sizes and needs other changes: terminals of these wires to
    /// be replaced, a conduit that gets too full.
    pub then_fails: Vec<Finding>,
    /// The sizes tried and what came of each.
    pub working: Working,
}

impl CircuitSizing {
    /// Whether any wire gets another size than it has.
    pub fn changes_anything(&self) -> bool {
        self.wires
            .iter()
            .any(|wire| wire.size_now != Some(wire.proposed))
    }
}

/// Why there is no proposal.
#[derive(Clone, Debug, PartialEq)]
pub enum NoSize {
    /// Something that decides could not be judged.
    NotEvaluated(NotEvaluated),
    /// No size of the series is enough.
    NoneEnough {
        /// What still stands against the thickest.
        reason: String,
        /// The findings with the thickest sizes.
        findings: Vec<Finding>,
        /// The sizes that would do if the contacts took them, where contacts stand in the way.
        with_other_contacts: Option<Box<CircuitSizing>>,
    },
}

impl fmt::Display for NoSize {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NotEvaluated(why) => why.fmt(f),
            Self::NoneEnough {
                reason,
                with_other_contacts,
                ..
            } => {
                write!(f, "no size of the series is enough: {reason}")?;
                let thickest = with_other_contacts
                    .iter()
                    .flat_map(|found| &found.wires)
                    .map(|wire| wire.proposed)
                    .max();
                match thickest {
                    Some(size) => write!(f, " With other contacts {size} would do."),
                    None => Ok(()),
                }
            }
        }
    }
}

impl std::error::Error for NoSize {}
