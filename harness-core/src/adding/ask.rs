//! What is asked for, and what is wrong with it.

use crate::choices::{DropClass, FigureFrom, Function};
use crate::file_format::ModelRecord;
use crate::model::{BoatModel, Identified, Table};
use crate::units::bounds::{self, Bounds};
use crate::units::{SizeSeries, WireSize};

/// What a component draws: one figure.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Draws {
    /// Amperes, whatever the volts.
    Current(f64),
    /// Watts, whatever the volts.
    Power(f64),
    /// Ohms.
    Resistance(f64),
}

impl Draws {
    /// Amperes at these volts.
    pub fn amperes_at(self, volts: f64) -> f64 {
        match self {
            Self::Current(amperes) => amperes,
            Self::Power(watts) => watts / volts,
            Self::Resistance(ohms) => volts / ohms,
        }
    }

    fn bounds(self) -> (&'static Bounds, f64) {
        match self {
            Self::Current(value) => (&bounds::AMPERES, value),
            Self::Power(value) => (&bounds::WATTS, value),
            Self::Resistance(value) => (&bounds::OHMS_ABOVE_NONE, value),
        }
    }
}

/// One way in which the option hangs together with another, by the other's code.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Ordered {
    /// It needs the other.
    Requires(String),
    /// It never goes together with the other.
    Excludes(String),
    /// No boat has two of these and it.
    OneOf(String),
}

impl Ordered {
    /// Code of the other option.
    pub fn other(&self) -> &str {
        match self {
            Self::Requires(other) | Self::Excludes(other) | Self::OneOf(other) => other,
        }
    }
}

/// In which harness the wires are.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Fitted {
    /// In the main harness: on every boat, ends treated where the option is not fitted.
    Main,
    /// In an add-on harness that comes with the option.
    AddOn,
}

impl Fitted {
    /// The word used in forms.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Main => "main",
            Self::AddOn => "add-on",
        }
    }
}

/// What the designer decides instead of leaving it to the proposal.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Decided {
    /// Block and position that feed it.
    pub feed: Option<(String, u32)>,
    /// Bar to which it returns.
    pub back: Option<String>,
    /// Rating of its device.
    pub rating_a: Option<f64>,
    /// Size of its wires.
    pub size: Option<WireSize>,
    /// In which harness its wires are.
    pub fitted: Option<Fitted>,
    /// Color of its feed.
    pub color: Option<String>,
}

/// What goes with the figures of a component that was taken from elsewhere, unasked.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Figures {
    /// Where the figures come from.
    pub from: Option<FigureFrom>,
    /// Where exactly.
    pub source: Option<String>,
    /// Part of the parts list that they were taken from.
    pub part: Option<String>,
    /// Duration of the inrush.
    pub inrush_ms: Option<f64>,
    /// Current with the rotor locked.
    pub locked_rotor_a: Option<f64>,
    /// Current with everything off.
    pub standby_ma: Option<f64>,
    /// Greatest volts it stands.
    pub max_v: Option<f64>,
    /// Whether it will not light fuel vapor around it.
    pub ignition_protected: Option<bool>,
}

/// One optional component to be added to a model.
#[derive(Clone, Debug, PartialEq)]
pub struct Ask {
    /// Code of the option; empty, it is made from the name.
    pub code: String,
    /// Name of the option and of the component.
    pub name: String,
    /// What it draws.
    pub draws: Draws,
    /// Volts at which that was stated.
    pub stated_at_v: Option<f64>,
    /// Where the figures come from, and what goes with them.
    pub figures: Figures,
    /// Inrush current.
    pub inrush_a: Option<f64>,
    /// Least volts at which it works.
    pub min_v: Option<f64>,
    /// Drop class; left out, the wider one.
    pub drop_class: Option<DropClass>,
    /// What its circuit does, from which the color follows; left out, an accessory.
    pub function: Option<Function>,
    /// States in which it runs; none, all of them.
    pub runs_in: Vec<String>,
    /// Point at which it sits.
    pub point: String,
    /// How it hangs together with other options.
    pub ordered: Vec<Ordered>,
    /// Share of boats sold with it.
    pub take_rate: Option<f64>,
    /// What is not left to the proposal.
    pub decided: Decided,
}

/// Longest name of an option: it stands on labels and lists.
const LONGEST_NAME: usize = 120;
/// Longest code; what is named after it adds a few letters within what a file takes.
const LONGEST_CODE: usize = 48;

/// Words of addresses that no option may have as its code.
const RESERVED_CODES: &[&str] = &["add"];

/// One thing wrong with what is asked for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct AskFault {
    /// Field of the ask.
    pub field: &'static str,
    /// What is wrong, and the next step.
    pub detail: String,
    /// What was given; empty where nothing was.
    pub given: String,
    /// What would be accepted; empty where no list or range says it.
    pub limit: String,
}

impl AskFault {
    pub(super) fn new(field: &'static str, detail: impl Into<String>) -> Self {
        Self {
            field,
            detail: detail.into(),
            given: String::new(),
            limit: String::new(),
        }
    }

    pub(super) fn given(mut self, given: impl ToString) -> Self {
        self.given = given.to_string();
        self
    }

    pub(super) fn limit(mut self, limit: impl Into<String>) -> Self {
        self.limit = limit.into();
        self
    }
}

/// A code made from a name: `Deck light, bow` becomes `deck-light-bow`.
pub fn code_from(name: &str) -> String {
    let lower = name.to_ascii_lowercase();
    let parts = lower
        .split(|c: char| !c.is_ascii_alphanumeric())
        .filter(|part| !part.is_empty());
    let made: String = parts.collect::<Vec<_>>().join("-");
    made.chars()
        .take(LONGEST_CODE)
        .collect::<String>()
        .trim_end_matches('-')
        .to_owned()
}

impl Ask {
    /// Code of the option: as given, or made from the name.
    pub fn option_code(&self) -> String {
        let given = self.code.trim();
        if given.is_empty() {
            code_from(&self.name)
        } else {
            given.to_owned()
        }
    }

    /// Everything wrong with it, for this model.
    pub fn faults(&self, model: &BoatModel) -> Vec<AskFault> {
        let mut faults = Vec::new();
        self.name_and_code(model, &mut faults);
        self.figures(&mut faults);
        self.references(model, &mut faults);
        self.decisions(model, &mut faults);
        faults
    }

    fn name_and_code(&self, model: &BoatModel, faults: &mut Vec<AskFault>) {
        if self.name.trim().is_empty() {
            let detail = "the component has no name: give the one on the price list";
            faults.push(AskFault::new("name", detail));
            return;
        }
        if self.name.chars().any(char::is_control) || self.name.chars().count() > LONGEST_NAME {
            let detail = "the name must be one short line: shorten it";
            let limit = format!("at most {LONGEST_NAME} characters on one line");
            let count = format!("{} characters", self.name.chars().count());
            faults.push(AskFault::new("name", detail).given(count).limit(limit));
        }
        let field = if self.code.trim().is_empty() {
            "name"
        } else {
            "code"
        };
        let code = self.option_code();
        if code.is_empty() {
            let detail = "no code can be made from this name: give one with a letter or digit";
            faults.push(AskFault::new(field, detail).given(&self.name));
        } else if !code
            .chars()
            .all(|c| c.is_alphanumeric() || matches!(c, '-' | '_'))
            || code.chars().count() > LONGEST_CODE
        {
            let detail = "a code stands in addresses and beside pins: write it otherwise";
            let limit = format!("letters, digits, - and _, at most {LONGEST_CODE} characters");
            faults.push(AskFault::new(field, detail).given(code).limit(limit));
        } else if RESERVED_CODES.contains(&code.as_str()) {
            let detail = "this word is part of an address: give another code";
            faults.push(AskFault::new(field, detail).given(code));
        } else if model.options.find(&code).is_some() {
            let detail = "there is already an option of this code: give another name or code";
            faults.push(AskFault::new(field, detail).given(code));
        }
    }

    fn figures(&self, faults: &mut Vec<AskFault>) {
        let (limits, value) = self.draws.bounds();
        let figures = [
            ("draws", Some(value), limits),
            ("draws", self.stated_at_v, &bounds::VOLTS),
            ("inrush_a", self.inrush_a, &bounds::AMPERES),
            ("min_v", self.min_v, &bounds::VOLTS),
            ("take_rate", self.take_rate, &bounds::SHARE),
            ("rating_a", self.decided.rating_a, &bounds::AMPERES),
        ];
        for (field, value, limits) in figures {
            if let Some(value) = value.filter(|value| !limits.contains(*value)) {
                let detail = "the number is outside what can be: correct it";
                faults.push(
                    AskFault::new(field, detail)
                        .given(value)
                        .limit(limits.text()),
                );
            }
        }
    }

    fn references(&self, model: &BoatModel, faults: &mut Vec<AskFault>) {
        if model.points.find(&self.point).is_none() {
            let detail = "this boat model has no such point: choose where it sits";
            faults.push(
                AskFault::new("point", detail)
                    .given(&self.point)
                    .limit(known(&model.points)),
            );
        }
        for state in &self.runs_in {
            if model.states.find(state).is_none() {
                let detail = "this boat model has no such operating state: choose others";
                faults.push(
                    AskFault::new("states", detail)
                        .given(state)
                        .limit(known(&model.states)),
                );
            }
        }
        for rule in &self.ordered {
            if model.options.find(rule.other()).is_none() {
                let detail = "this boat model has no such option: choose others";
                let fault = AskFault::new("ordered", detail).given(rule.other());
                faults.push(fault.limit(known(&model.options)));
            }
        }
    }

    fn decisions(&self, model: &BoatModel, faults: &mut Vec<AskFault>) {
        let stocked = match model.settings.size_series {
            crate::choices::SizeSeriesChoice::Awg => SizeSeries::Awg,
            crate::choices::SizeSeriesChoice::Mm2 => SizeSeries::Metric,
        };
        if let Some(size) = self.decided.size.filter(|size| size.series() != stocked) {
            let detail = "this size is of a series that the model does not stock: choose another";
            faults.push(AskFault::new("size", detail).given(size));
        }
        let color = self.decided.color.as_deref();
        if color.is_some_and(|color| color.trim().is_empty()) {
            faults.push(AskFault::new(
                "color",
                "the color is empty: name it in words",
            ));
        }
    }
}

/// Short names of a table as a list to choose from.
fn known<T: Identified>(table: &Table<T>) -> String {
    let ids: Vec<_> = table.iter().map(|(_, item)| item.id().to_owned()).collect();
    match ids.len() {
        0 => "none is stated".to_owned(),
        1..=12 => ids.join(", "),
        count => format!("{}, and {} more", ids[..12].join(", "), count - 12),
    }
}

/// A short name for the component that no other equipment has.
pub(super) fn free_equipment_id(record: &ModelRecord, wanted: &str) -> String {
    let mut taken = std::collections::BTreeSet::new();
    taken.extend(record.sources.iter().map(|one| one.id.as_str()));
    taken.extend(record.devices.iter().map(|one| one.id.as_str()));
    taken.extend(record.buses.iter().map(|one| one.id.as_str()));
    taken.extend(record.loads.iter().map(|one| one.id.as_str()));
    taken.extend(record.connectors.iter().map(|one| one.id.as_str()));
    taken.extend(record.splices.iter().map(|one| one.id.as_str()));
    let numbered = (1..).map(|number| format!("{wanted}-{number}"));
    let mut names = std::iter::once(wanted.to_owned()).chain(numbered);
    names
        .find(|name| !taken.contains(name.as_str()))
        .unwrap_or_default()
}
