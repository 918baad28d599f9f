//! What a rule says of one thing: met, fails, or not evaluated and why.

use crate::boats::Condition;
use crate::model::{
    BoatModel, Bus, Circuit, Connector, Coupler, Device, Equipment, Index, Load, OperatingState,
    Point, RuleSet, Run, Source, Splice, Wire, Zone,
};
use crate::network::assembly::Part;
use crate::units::WireSize;
use crate::working::{NotEvaluated, Working, significant};
use std::fmt;
use std::sync::Arc;

/// The thing a finding is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Place {
    /// A consumer.
    Load(Index<Load>),
    /// A wire.
    Wire(Index<Wire>),
    /// A device.
    Device(Index<Device>),
    /// A connector.
    Connector(Index<Connector>),
    /// A coupler.
    Coupler(Index<Coupler>),
    /// A busbar, block or stud.
    Bus(Index<Bus>),
    /// A splice.
    Splice(Index<Splice>),
    /// A source.
    Source(Index<Source>),
    /// A run.
    Run(Index<Run>),
}

impl From<Equipment> for Place {
    fn from(equipment: Equipment) -> Self {
        match equipment {
            Equipment::Source(at) => Self::Source(at),
            Equipment::Device(at) => Self::Device(at),
            Equipment::Bus(at) => Self::Bus(at),
            Equipment::Connector(at) => Self::Connector(at),
            Equipment::Splice(at) => Self::Splice(at),
            Equipment::Load(at) => Self::Load(at),
        }
    }
}

impl From<Part> for Place {
    /// The thing that a part belongs to.
    fn from(part: Part) -> Self {
        match part {
            Part::Wire(at) => Self::Wire(at),
            Part::Device(at) => Self::Device(at),
            Part::Coupler(at, _) => Self::Coupler(at),
            Part::Contact(at, _) => Self::Connector(at),
            Part::Splice(at) => Self::Splice(at),
        }
    }
}

impl Place {
    /// The thing in words: kind and short name.
    pub fn label(self, model: &BoatModel) -> String {
        match self {
            Self::Load(at) => format!("load {}", model.loads.id(at)),
            Self::Wire(at) => format!("wire {}", model.wires.id(at)),
            Self::Device(at) => format!("{} {}", model.devices[at].kind, model.devices.id(at)),
            Self::Connector(at) => format!("connector {}", model.connectors.id(at)),
            Self::Coupler(at) => format!("coupler {}", model.couplers.id(at)),
            Self::Bus(at) => format!("{} {}", model.buses[at].kind, model.buses.id(at)),
            Self::Splice(at) => format!("splice {}", model.splices.id(at)),
            Self::Source(at) => format!("source {}", model.sources.id(at)),
            Self::Run(at) => format!("run {}", model.runs.id(at)),
        }
    }

    /// Full name, or the short one.
    pub fn title(self, model: &BoatModel) -> String {
        let name = match self {
            Self::Load(at) => &model.loads[at].name,
            Self::Device(at) => &model.devices[at].name,
            Self::Connector(at) => &model.connectors[at].name,
            Self::Coupler(at) => &model.couplers[at].name,
            Self::Bus(at) => &model.buses[at].name,
            Self::Source(at) => &model.sources[at].name,
            Self::Wire(_) | Self::Splice(_) | Self::Run(_) => &None,
        };
        name.clone().unwrap_or_else(|| self.label(model))
    }

    /// The circuit it belongs to, where there is one.
    pub fn circuit(self, model: &BoatModel) -> Option<Index<Circuit>> {
        match self {
            Self::Load(at) => model.loads[at].circuit,
            Self::Wire(at) => model.wires[at].circuit,
            Self::Device(at) => model
                .circuits
                .iter()
                .find(|(_, circuit)| circuit.device == Some(at) || circuit.switch == Some(at))
                .map(|(index, _)| index),
            _ => None,
        }
    }

    /// The point it sits at; for a wire the point of its second end.
    pub fn point(self, model: &BoatModel) -> Option<Index<Point>> {
        match self {
            Self::Load(at) => model.loads[at].point,
            Self::Wire(at) => model.wires[at].to.equipment().point(model),
            Self::Device(at) => Equipment::Device(at).point(model),
            Self::Connector(at) => model.connectors[at].point,
            Self::Coupler(at) => model.connectors[model.couplers[at].first].point,
            Self::Bus(at) => model.buses[at].point,
            Self::Splice(at) => model.splices[at].point,
            Self::Source(at) => model.sources[at].point,
            Self::Run(at) => Some(model.runs[at].from),
        }
    }

    /// On which boats it is fitted; a run is on every boat.
    pub fn fitted_when(self, model: &BoatModel) -> Condition {
        match self {
            Self::Load(at) => model.loads[at].fitted_when.simplified(),
            Self::Wire(at) => model.wires[at].fitted_when.simplified(),
            Self::Device(at) => model.devices[at].fitted_when.simplified(),
            Self::Connector(at) => model.connectors[at].fitted_when.simplified(),
            Self::Coupler(at) => Part::Coupler(at, 1).fitted_when(model),
            Self::Bus(at) => model.buses[at].fitted_when.simplified(),
            Self::Splice(at) => model.splices[at].fitted_when.simplified(),
            Self::Source(at) => model.sources[at].fitted_when.simplified(),
            Self::Run(_) => Condition::Always,
        }
    }

    /// The zone it lies in.
    pub fn zone(self, model: &BoatModel) -> Option<Index<Zone>> {
        let stated = match self {
            Self::Run(at) => model.runs[at].stated_zone,
            _ => None,
        };
        stated.or_else(|| model.points[self.point(model)?].zone)
    }
}

/// A number with its unit, as judged.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Quantity {
    /// The number.
    pub value: f64,
    /// Its unit; empty for a count.
    pub unit: &'static str,
}

impl Quantity {
    /// A number and its unit.
    pub const fn new(value: f64, unit: &'static str) -> Self {
        Self { value, unit }
    }
}

impl fmt::Display for Quantity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let number = significant(self.value, 4);
        if self.unit.is_empty() {
            f.write_str(&number)
        } else {
            write!(f, "{number} {}", self.unit)
        }
    }
}

/// Whether a solved value is within a limit. The last digits of a solved current or voltage are
/// rounding noise: a billionth of the limit over it is still at the limit.
pub(super) fn within(value: f64, limit: f64) -> bool {
    value <= limit + limit.abs() * 1e-9
}

/// Judges what was gathered over states, wires or contacts of which some may be unknown: a known
/// one that fails stands, a pass needs every one known.
///
/// # Errors
/// What is known holds, and something is unknown.
pub(super) fn settled(holds: bool, unknown: Option<&NotEvaluated>) -> Result<bool, NotEvaluated> {
    match unknown {
        Some(why) if holds => Err(why.clone()),
        _ => Ok(holds),
    }
}

/// Outcome of one rule on one thing. Silence is not a pass: what could not be judged says so.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// Within the limit.
    Met,
    /// Over the limit.
    Fails,
    /// Could not be judged.
    NotEvaluated(NotEvaluated),
}

impl Outcome {
    /// The outcome as printed.
    pub const fn word(&self) -> &'static str {
        match self {
            Self::Met => "met",
            Self::Fails => "fails",
            Self::NotEvaluated(_) => "not evaluated",
        }
    }

    /// Met or fails.
    pub const fn met(holds: bool) -> Self {
        if holds { Self::Met } else { Self::Fails }
    }
}

/// A limit: code of the rule, what it is about, and the rule set.
pub type LimitKey = (&'static str, Place, Option<RuleSet>);

/// What one rule says of one thing.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// Code of the rule.
    pub rule: &'static str,
    /// What it is about.
    pub place: Place,
    /// Which rule set's limit was applied; `None` where the sets agree or it is our practice.
    pub rule_set: Option<RuleSet>,
    /// Operating state in which it is worst, where states matter.
    pub state: Option<Index<OperatingState>>,
    /// Outcome.
    pub outcome: Outcome,
    /// The value judged.
    pub value: Option<Quantity>,
    /// The limit it is held to.
    pub limit: Option<Quantity>,
    /// What is the case, in one sentence with numbers.
    pub message: String,
    /// What to do about it; empty when met.
    pub next_step: String,
    /// How the value was reached; shared by all studies in which the finding holds.
    pub working: Arc<Working>,
    /// The wire and the stocked size with which it would hold, all else staying as it is; `None`
    /// where it holds, and where no size is enough or size is not what fails.
    pub cured_by: Option<(Index<Wire>, WireSize)>,
}

impl Finding {
    /// A finding that could not be judged.
    pub fn not_evaluated(rule: &'static str, place: Place, why: NotEvaluated) -> Self {
        Self {
            rule,
            place,
            rule_set: None,
            state: None,
            message: why.to_string(),
            outcome: Outcome::NotEvaluated(why),
            value: None,
            limit: None,
            next_step: String::new(),
            working: Arc::default(),
            cured_by: None,
        }
    }

    /// A finding judged by a yes or no, without a number.
    pub fn judged(
        rule: &'static str,
        place: Place,
        holds: bool,
        message: impl Into<String>,
        next_step: impl Into<String>,
    ) -> Self {
        Self {
            rule,
            place,
            rule_set: None,
            state: None,
            outcome: Outcome::met(holds),
            value: None,
            limit: None,
            message: message.into(),
            next_step: if holds {
                String::new()
            } else {
                next_step.into()
            },
            working: Arc::default(),
            cured_by: None,
        }
    }

    /// The same under one rule set's limit.
    #[must_use]
    pub fn under(mut self, rule_set: RuleSet) -> Self {
        self.rule_set = Some(rule_set);
        self
    }

    /// The same, worst in this state.
    #[must_use]
    pub fn worst_in(mut self, state: Option<Index<OperatingState>>) -> Self {
        self.state = state;
        self
    }

    /// The same with the value judged and its limit, both in one unit.
    #[must_use]
    pub fn measured(mut self, value: f64, limit: f64, unit: &'static str) -> Self {
        self.value = Some(Quantity::new(value, unit));
        self.limit = Some(Quantity::new(limit, unit));
        self
    }

    /// The same with the way it was reached.
    #[must_use]
    pub fn shown(mut self, working: Working) -> Self {
        self.working = Arc::new(working);
        self
    }

    /// The same with the wire that has to be this thick for the limit to hold.
    #[must_use]
    pub fn cured_by(mut self, wire: Index<Wire>, size: Option<WireSize>) -> Self {
        self.cured_by = size.filter(|_| self.fails()).map(|size| (wire, size));
        self
    }

    /// What makes two findings the same question: the rule, the thing, the rule set.
    pub fn limit_key(&self) -> LimitKey {
        (self.rule, self.place, self.rule_set)
    }

    /// Whether the limit is broken.
    pub fn fails(&self) -> bool {
        self.outcome == Outcome::Fails
    }

    /// How far over the limit, as a ratio, for sorting worst first; 1 where there is no number.
    pub fn severity(&self) -> f64 {
        match (self.value, self.limit) {
            (Some(value), Some(limit)) if limit.value > 0.0 && value.value > 0.0 => {
                let ratio = value.value / limit.value;
                // A least value is broken from below.
                if self.fails() && ratio < 1.0 {
                    1.0 / ratio
                } else {
                    ratio
                }
            }
            _ => 1.0,
        }
    }
}
