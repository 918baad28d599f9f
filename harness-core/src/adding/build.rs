//! The model with the component: records appended to those stated, so that every place in the
//! model keeps its number.

use super::ask::{Ask, Draws, Fitted, Ordered, free_equipment_id};
use super::crossing::Crossing;
use super::likes::Likes;
use crate::choices::{DeviceKind, DropClass, EndTreatmentKind, Family, Function, Role};
use crate::file_format::ModelRecord;
use crate::file_format::records::{
    CircuitRecord, ConditionRecord, DeviceRecord, EndTreatment, FittedIn, HarnessRecord,
    LoadRecord, OptionRecord, OptionRuleRecord, Use, WireEndRecord, WireRecord,
};
use crate::model::{BoatModel, Bus, Index, Pin};
use crate::units::WireSize;

/// What was decided, enough to write the records.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Plan {
    pub option: String,
    pub load: String,
    pub circuit: String,
    pub device: String,
    pub feed: (Index<Bus>, u32),
    pub back: (Index<Bus>, u32),
    pub crossings: Vec<Crossing>,
    pub family: Option<Family>,
    pub rating: f64,
    pub size: WireSize,
    pub fitted: Fitted,
    pub function: Function,
    pub color: String,
    pub return_color: String,
}

/// The next free circuit number, counted on from the greatest.
pub(super) fn next_circuit(record: &ModelRecord) -> String {
    let numbers = record
        .circuits
        .iter()
        .filter_map(|one| one.id.parse::<u32>().ok());
    let mut next = numbers.max().unwrap_or(0) + 1;
    let known = |number: u32| {
        let start = format!("{number}-");
        record
            .circuits
            .iter()
            .any(|one| one.id == number.to_string())
            || record.wires.iter().any(|one| one.id.starts_with(&start))
    };
    while known(next) {
        next += 1;
    }
    next.to_string()
}

/// The option with its rules alone: enough to ask which boats can be ordered.
pub(super) fn with_option(record: &ModelRecord, ask: &Ask, code: &str) -> ModelRecord {
    let mut record = record.clone();
    let name = ask.name.trim().to_owned();
    record.options.push(OptionRecord {
        id: code.to_owned(),
        name: Some(name),
        take_rate: ask.take_rate,
        contains: Vec::new(),
        from_hull: None,
        to_hull: None,
    });
    let none = OptionRuleRecord {
        requires: Vec::new(),
        excludes: Vec::new(),
        only_with: Vec::new(),
        exactly_one_of: Vec::new(),
        at_most_one_of: Vec::new(),
        always: None,
        because: None,
    };
    let mut one_of = vec![code.to_owned()];
    for rule in &ask.ordered {
        let pair = |other: &String| vec![code.to_owned(), other.clone()];
        match rule {
            Ordered::Requires(other) => record.option_rules.push(OptionRuleRecord {
                requires: pair(other),
                ..none.clone()
            }),
            Ordered::Excludes(other) => record.option_rules.push(OptionRuleRecord {
                excludes: pair(other),
                ..none.clone()
            }),
            Ordered::OneOf(other) => one_of.push(other.clone()),
        }
    }
    if one_of.len() > 1 {
        record.option_rules.push(OptionRuleRecord {
            at_most_one_of: one_of,
            ..none
        });
    }
    record
}

/// Names for what is new, taken by nothing else.
pub(super) fn names(record: &ModelRecord, ask: &Ask) -> (String, String, String, String) {
    let option = ask.option_code();
    let circuit = next_circuit(record);
    let load = free_equipment_id(record, &option);
    let device = free_equipment_id(record, &format!("fuse-{circuit}"));
    (option, load, circuit, device)
}

/// The whole model with the component.
pub(super) fn build(
    model: &BoatModel,
    stated: &ModelRecord,
    ask: &Ask,
    plan: &Plan,
) -> ModelRecord {
    let mut record = with_option(stated, ask, &plan.option);
    let option = ConditionRecord::Option(plan.option.clone());
    let likes = Likes::of(model);
    record.loads.push(load(ask, plan, option.clone()));
    record
        .devices
        .push(device(model, &likes, ask, plan, option.clone()));
    record.circuits.push(CircuitRecord {
        id: plan.circuit.clone(),
        name: Some(ask.name.trim().to_owned()),
        function: Some(plan.function.word().to_owned()),
        device: Some(plan.device.clone()),
        switch: None,
    });
    if plan.fitted == Fitted::Main {
        decide_cavities(model, &mut record, &plan.crossings);
    }
    let harness = add_on(model, &mut record, ask, plan);
    let wiring = Wiring {
        model,
        stated,
        likes: &likes,
        ask,
        plan,
        harness,
        option,
    };
    let wires = wiring.wires();
    record.wires.extend(wires);
    record
}

fn load(ask: &Ask, plan: &Plan, option: ConditionRecord) -> LoadRecord {
    let figure = |wanted: fn(Draws) -> Option<f64>| wanted(ask.draws);
    let used = |state: &String| Use {
        state: state.clone(),
        share: 1.0,
    };
    LoadRecord {
        id: plan.load.clone(),
        name: Some(ask.name.trim().to_owned()),
        point: Some(ask.point.clone()),
        circuit: Some(plan.circuit.clone()),
        current_a: figure(|draws| match draws {
            Draws::Current(value) => Some(value),
            _ => None,
        }),
        power_w: figure(|draws| match draws {
            Draws::Power(value) => Some(value),
            _ => None,
        }),
        resistance_ohm: figure(|draws| match draws {
            Draws::Resistance(value) => Some(value),
            _ => None,
        }),
        stated_at_v: ask.stated_at_v,
        inrush_a: ask.inrush_a,
        inrush_ms: ask.figures.inrush_ms,
        locked_rotor_a: ask.figures.locked_rotor_a,
        standby_ma: ask.figures.standby_ma,
        min_v: ask.min_v,
        max_v: ask.figures.max_v,
        drop_class: Some(ask.drop_class.unwrap_or(DropClass::Other).word().to_owned()),
        drop_limit_percent: None,
        figure_from: ask.figures.from.map(|from| from.word().to_owned()),
        figure_source: ask.figures.source.clone(),
        part: ask.figures.part.clone(),
        ignition_protected: ask.figures.ignition_protected,
        runs_in: ask.runs_in.iter().map(used).collect(),
        fitted_when: Some(option),
    }
}

fn device(
    model: &BoatModel,
    likes: &Likes<'_>,
    ask: &Ask,
    plan: &Plan,
    option: ConditionRecord,
) -> DeviceRecord {
    let like = likes.device(plan.family, plan.rating);
    let kind = if plan.family == Some(Family::Breaker) {
        DeviceKind::Breaker
    } else {
        DeviceKind::Fuse
    };
    let milliohms = likes.milliohms(plan.family, plan.rating);
    DeviceRecord {
        id: plan.device.clone(),
        kind: kind.word().to_owned(),
        name: Some(format!("{} {kind}", ask.name.trim())),
        family: plan.family.map(|family| family.word().to_owned()),
        point: None,
        fitted_in: Some(FittedIn {
            block: model.buses.id(plan.feed.0).to_owned(),
            position: plan.feed.1,
        }),
        rating_a: Some(plan.rating),
        interrupting_a: like
            .and_then(|one| one.interrupting)
            .or_else(|| {
                crate::tables::protection::interrupting_rating(plan.family?).map(|one| one.value)
            })
            .map(|amps| amps.value()),
        rated_v: like
            .and_then(|one| one.rated_volts)
            .or_else(|| crate::tables::protection::rated_voltage(plan.family?).map(|one| one.value))
            .map(|volts| volts.value()),
        resistance_mohm: milliohms,
        figure_from: like
            .and_then(|one| one.figure_from)
            .map(|from| from.word().to_owned()),
        figure_source: like.and_then(|one| one.figure_source.clone()),
        part: like.and_then(|one| one.part.clone()),
        ignition_protected: like.and_then(|one| one.ignition_protected),
        open_in: Vec::new(),
        fitted_when: Some(option),
    }
}

/// A cavity that holds a wire on every boat is no longer plugged or spare.
fn decide_cavities(model: &BoatModel, record: &mut ModelRecord, crossings: &[Crossing]) {
    for crossing in crossings {
        for half in [crossing.near, crossing.far] {
            let taken = [crossing.feed, crossing.back];
            let cavities = &mut record.connectors[half.number()].cavities;
            cavities.retain(|one| !taken.contains(&one.cavity));
            debug_assert_eq!(
                record.connectors[half.number()].id,
                model.connectors.id(half)
            );
        }
    }
}

/// The add-on harness, where the wires come with the option.
fn add_on(model: &BoatModel, record: &mut ModelRecord, ask: &Ask, plan: &Plan) -> Option<String> {
    if plan.fitted == Fitted::Main {
        return None;
    }
    let wanted = format!("{}-add-on", plan.option);
    let numbered = (2..).map(|number| format!("{wanted}-{number}"));
    let taken = |id: &String| record.harnesses.iter().any(|one| one.id == *id);
    let mut names = std::iter::once(wanted.clone()).chain(numbered);
    let id = names.find(|id| !taken(id)).unwrap_or_default();
    let block = model.buses[plan.feed.0].point;
    let moulding = block.and_then(|point| super::crossing::moulding_of(model, point));
    record.harnesses.push(HarnessRecord {
        id: id.clone(),
        name: Some(format!("{} add-on harness", ask.name.trim())),
        part_number: None,
        revision: None,
        moulding: moulding.map(|at| model.mouldings.id(at).to_owned()),
        datum: block.map(|at| model.points.id(at).to_owned()),
        covering: None,
    });
    Some(id)
}

struct Wiring<'a> {
    model: &'a BoatModel,
    stated: &'a ModelRecord,
    likes: &'a Likes<'a>,
    ask: &'a Ask,
    plan: &'a Plan,
    harness: Option<String>,
    option: ConditionRecord,
}

impl Wiring<'_> {
    fn wires(&self) -> Vec<WireRecord> {
        let (model, plan) = (self.model, self.plan);
        let place =
            |(bus, position): (Index<Bus>, u32)| format!("{}.{position}", model.buses.id(bus));
        let cavity = |half, number: u32| format!("{}.{number}", model.connectors.id(half));
        let mut feed = vec![place(plan.feed)];
        let mut back = vec![place(plan.back)];
        for crossing in &plan.crossings {
            for half in [crossing.near, crossing.far] {
                feed.push(cavity(half, crossing.feed));
                back.push(cavity(half, crossing.back));
            }
        }
        feed.push(format!("{}.plus", plan.load));
        back.push(format!("{}.minus", plan.load));
        // Returns are listed from the component to the bar.
        back.reverse();
        let feeds = self.pieces(&feed, Role::Feed);
        let returns = self.pieces(&back, Role::Return);
        feeds.into_iter().chain(returns).collect()
    }

    fn pieces(&self, stops: &[String], role: Role) -> Vec<WireRecord> {
        let letter = if role == Role::Feed { 'F' } else { 'R' };
        let count = stops.len() / 2;
        let each = stops.chunks_exact(2).enumerate().map(|(at, ends)| {
            // Pieces of the feed and of the return between the same couplers lie in one harness.
            let from_block = if role == Role::Feed {
                at
            } else {
                count - 1 - at
            };
            self.wire(
                format!("{}-{letter}{}", self.plan.circuit, at + 1),
                ends,
                role,
                from_block,
            )
        });
        each.collect()
    }

    fn wire(&self, id: String, ends: &[String], role: Role, from_block: usize) -> WireRecord {
        let plan = self.plan;
        let block = &self.stated.buses[plan.feed.0.number()];
        let color = if role == Role::Feed {
            &plan.color
        } else {
            &plan.return_color
        };
        WireRecord {
            id,
            from: ends[0].clone(),
            to: ends[1].clone(),
            circuit: Some(plan.circuit.clone()),
            role: Some(role.word().to_owned()),
            size: Some(plan.size.to_string()),
            insulation_degc: None,
            color: Some(color.clone()),
            cable: None,
            harness: self.harness.clone().or_else(|| self.harness_of(from_block)),
            enclosed: None,
            through: Vec::new(),
            avoid: Vec::new(),
            from_end: self.end(&ends[0]),
            to_end: self.end(&ends[1]),
            fitted_when: match plan.fitted {
                Fitted::Main => block.fitted_when.clone(),
                Fitted::AddOn => Some(self.option.clone()),
            },
        }
    }

    /// The harness of a stretch: that of the connector half on it, else the one in which most
    /// wires of the block are.
    fn harness_of(&self, from_block: usize) -> Option<String> {
        let crossings = &self.plan.crossings;
        let half = match from_block {
            0 => crossings.first().map(|one| one.near),
            _ => crossings.get(from_block - 1).map(|one| one.far),
        };
        let harness = match half {
            Some(half) => self.model.connectors[half].harness,
            None => self.likes.harness_at(self.plan.feed.0),
        };
        harness.map(|at| self.model.harnesses.id(at).to_owned())
    }

    fn end(&self, pin: &str) -> Option<WireEndRecord> {
        let (model, plan) = (self.model, self.plan);
        let (thing, _) = pin.rsplit_once('.')?;
        let mut end = WireEndRecord {
            terminal: None,
            entry_mm: None,
            loop_mm: None,
            rework_mm: None,
            outside_sheath_mm: None,
            sleeve: None,
            when_unused: None,
        };
        if thing == plan.load {
            end.terminal = self.likes.load_terminal(plan.size);
            end.loop_mm = self.likes.load_loop();
            end.when_unused = (plan.fitted == Fitted::Main).then(|| EndTreatment {
                treatment: EndTreatmentKind::Capped.word().to_owned(),
                part: self.likes.cap(plan.size),
                tie_point: Some(self.ask.point.clone()),
            });
        } else if let Some(bus) = model.buses.find(thing) {
            end.terminal = self.likes.bus_terminal(bus, plan.size);
            end.rework_mm = self.likes.rework(|pin| matches!(pin, Pin::Bus(..)));
        } else {
            end.rework_mm = self.likes.rework(|pin| matches!(pin, Pin::Cavity(..)));
        }
        Some(end)
    }
}
