//! The worst of every limit against the plain way: judge every boat, one by one.

mod bounds;
mod collapsing;
mod drawn;
mod earlier;
mod extents;
mod gathered;
mod linked;
mod missing;
mod reach;
mod searched;
mod sketch;
mod varied;
mod walked;

use super::candidates::Width;
use super::quantity::Quantity;
use super::{Counted, EveryBoat, Supply};
use crate::boats::{Boat, BoatSet, OptionIndex};
use crate::file_format;
use crate::model::{BoatModel, Index, Load, OperatingState, RuleSet};
use crate::network::assembly::{Assembly, LoadPoint, Operating, Part, SourceCondition};
use crate::routing::Routing;
use crate::rules::{self, Finding, LimitUse, Outcome, Place};
use crate::study::{BoatChoice, Study, options_of};
use reach::Reached;
use std::collections::BTreeMap;
use std::sync::LazyLock;

const MODELS: usize = 320;
const VARIED: usize = 120;
const LINKED_MODELS: usize = 120;
const RICHLY_LINKED_MODELS: usize = 60;
const MOST_BOATS: usize = 220;
/// Most options of a drawn model.
const MOST_OPTIONS: usize = 12;

type Key = (&'static str, Place, Option<RuleSet>, usize);

fn every_boat(model: &BoatModel) -> Vec<Boat> {
    let options = options_of(model);
    (0..1_usize << options.count())
        .map(|mask| {
            let on = (0..options.count()).filter(|bit| mask >> bit & 1 == 1);
            on.map(OptionIndex).collect()
        })
        .filter(|boat| options.allow(boat))
        .collect()
}

fn rank(finding: &Finding) -> (u8, f64) {
    match finding.outcome {
        Outcome::Fails => (2, LimitUse::of(finding).used()),
        Outcome::NotEvaluated(_) => (1, 0.0),
        Outcome::Met => (0, LimitUse::of(finding).used()),
    }
}

/// The findings with a key that tells several of one boat apart.
fn keyed(findings: &[Finding]) -> BTreeMap<Key, Finding> {
    let mut met: BTreeMap<_, usize> = BTreeMap::new();
    findings
        .iter()
        .map(|finding| {
            let key = (finding.rule, finding.place, finding.rule_set);
            let occurrence = met.entry(key).or_default();
            *occurrence += 1;
            ((key.0, key.1, key.2, *occurrence), finding.clone())
        })
        .collect()
}

/// What a quantity is on one boat in one state, solved as that boat alone.
fn on_its_boat(
    model: &BoatModel,
    routing: &Routing,
    boat: &Boat,
    quantity: Quantity,
    state: Option<Index<OperatingState>>,
) -> Option<f64> {
    let assembly = Assembly::of(model, routing, boat);
    let condition = match quantity {
        Quantity::VoltsLeft(_) => SourceCondition::Low,
        _ => SourceCondition::Nominal,
    };
    let operating = assembly.operate(model, state, condition);
    let supplied = |load| match operating.loads.get(&load)? {
        LoadPoint::Supplied(supplied) => Some(supplied.clone()),
        _ => None,
    };
    let through = |part| {
        let branch = assembly.branch(part)?;
        let amps = operating.branch_currents[branch].as_ref().ok()?;
        Some(amps.value())
    };
    let given = |source| {
        let amps = operating.source_currents.get(&source)?.as_ref().ok()?;
        Some(amps.value())
    };
    match quantity {
        Quantity::Drop(load) => Some(supplied(load)?.drop().value()),
        Quantity::VoltsLeft(load) => Some(-supplied(load)?.volts.value()),
        Quantity::Current(part) => through(part),
        Quantity::CurrentBack(part) => Some(-through(part)?),
        Quantity::Given(source) => given(source),
        Quantity::Taken(source) => Some(-given(source)?),
    }
}

/// What was found over all drawn models.
#[derive(Debug, Default, PartialEq)]
struct Tally {
    models: usize,
    limits: usize,
    /// Quantities whose worst boat is proven, and those for which it is not.
    proven: usize,
    unproven: usize,
    /// Boats solved exactly in all searches: what bounds that are tight save.
    solves: usize,
    /// Boats that were judged, and those of them that were in all.
    judged: usize,
    in_all: usize,
    reached: Reached,
}

#[test]
fn the_worst_of_every_limit_equals_judging_every_boat() {
    // Fewer proofs, fewer exact counts or more solves would be a loss.
    let expected = Tally {
        models: MODELS,
        limits: 84_578,
        proven: 19_687,
        unproven: 0,
        solves: 8_844,
        judged: 2_378,
        in_all: 2_171,
        reached: Reached {
            failing: 1_867,
            partly: 909,
            exact: 791,
            causes: [290, 229],
            shared: [455, 1_573],
            near: 781,
        },
    };
    assert_eq!(compare(&DRAWN, Width::default()), expected);
}

/// One diagram with all conditions is taken for too wide: they come in small groups.
#[test]
fn it_does_so_when_conditions_come_in_groups() {
    let width = Width {
        together: 0,
        apart: (4, 1_000),
        ..Width::default()
    };
    // Causes and what boats share are not asked of groups.
    let expected = Tally {
        models: MODELS / 2,
        limits: 42_043,
        proven: 9_919,
        unproven: 0,
        solves: 4_590,
        judged: 1_283,
        in_all: 1_181,
        reached: Reached {
            failing: 914,
            partly: 437,
            exact: 361,
            causes: [0, 0],
            shared: [0, 761],
            near: 358,
        },
    };
    assert_eq!(compare(&DRAWN[..MODELS / 2], width), expected);
}

/// When wires carry current is left out of the diagram: outcomes are the same, and where the worst
/// boat of a wire beside others is not proven, it is told.
#[test]
fn it_does_so_when_it_is_not_followed_which_wires_are_loaded() {
    let width = Width {
        loaded: 0,
        ..Width::default()
    };
    let expected = Tally {
        models: MODELS / 4,
        limits: 21_584,
        proven: 4_960,
        unproven: 30,
        solves: 2_259,
        judged: 597,
        in_all: 555,
        reached: Reached {
            failing: 463,
            partly: 232,
            exact: 205,
            causes: [52, 45],
            shared: [125, 400],
            near: 205,
        },
    };
    assert_eq!(compare(&DRAWN[..MODELS / 4], width), expected);
}

/// What few boats have. Of some returns of large loads the bound does not tell that they hold.
#[test]
fn it_does_so_with_several_banks_large_loads_and_jackets() {
    let expected = Tally {
        models: VARIED,
        limits: 58_117,
        proven: 13_332,
        unproven: 6,
        solves: 8_579,
        judged: 1_919,
        in_all: 1_651,
        reached: Reached {
            failing: 2_423,
            partly: 1_842,
            exact: 542,
            causes: [496, 368],
            shared: [655, 3_898],
            near: 701,
        },
    };
    assert_eq!(compare(&RICH, Width::default()), expected);
}

/// What lies between wires, and several sources.
#[test]
fn it_does_so_with_couplers_splices_and_many_sources() {
    let expected = Tally {
        models: LINKED_MODELS,
        limits: 58_735,
        proven: 26_577,
        unproven: 0,
        solves: 5_829,
        judged: 1_343,
        in_all: 1_148,
        reached: Reached {
            failing: 4_090,
            partly: 2_953,
            exact: 571,
            causes: [237, 185],
            shared: [359, 5_231],
            near: 478,
        },
    };
    assert_eq!(compare(&LINKED, Width::default()), expected);
}

/// All of these at once.
#[test]
fn it_does_so_with_all_of_these_at_once() {
    let expected = Tally {
        models: RICHLY_LINKED_MODELS,
        limits: 43_130,
        proven: 17_391,
        unproven: 7,
        solves: 5_734,
        judged: 1_366,
        in_all: 1_156,
        reached: Reached {
            failing: 2_971,
            partly: 2_302,
            exact: 316,
            causes: [299, 172],
            shared: [419, 4_649],
            near: 386,
        },
    };
    assert_eq!(compare(&RICHLY_LINKED, Width::default()), expected);
}

/// Drawn models that have boats, and not too many.
static DRAWN: LazyLock<Vec<Drawn>> = LazyLock::new(|| judged(drawn::drawn, MODELS));
/// The same with what few boats have.
static RICH: LazyLock<Vec<Drawn>> = LazyLock::new(|| judged(varied::varied, VARIED));
/// The same with couplers, splices and many sources.
static LINKED: LazyLock<Vec<Drawn>> = LazyLock::new(|| judged(linked::linked, LINKED_MODELS));
/// All of these at once.
static RICHLY_LINKED: LazyLock<Vec<Drawn>> =
    LazyLock::new(|| judged(linked::richly_linked, RICHLY_LINKED_MODELS));

fn judged(draw: fn(u64) -> serde_json::Value, count: usize) -> Vec<Drawn> {
    let drawn = (0..).filter_map(|seed| {
        let text = draw(seed).to_string();
        let model = file_format::read(&text).unwrap_or_else(|faults| panic!("{faults:#?}"));
        let boats = every_boat(&model);
        let few = !boats.is_empty() && boats.len() <= MOST_BOATS;
        few.then(|| Drawn {
            seed,
            plain: Plain::of(&model, boats),
            model,
        })
    });
    drawn.take(count).collect()
}

/// One of them.
struct Drawn {
    seed: u64,
    model: BoatModel,
    plain: Plain,
}

/// One model with every boat judged by itself.
struct Plain {
    boats: Vec<Boat>,
    worst: BTreeMap<Key, Finding>,
    /// The boats on which each limit fails, in their order.
    fails: BTreeMap<Key, Vec<Boat>>,
    /// The greatest drop of each load at nominal volts, in percent.
    drops: BTreeMap<Index<Load>, f64>,
}

impl Plain {
    fn of(model: &BoatModel, boats: Vec<Boat>) -> Self {
        let mut plain = Self {
            boats,
            worst: BTreeMap::new(),
            fails: BTreeMap::new(),
            drops: BTreeMap::new(),
        };
        for boat in &plain.boats {
            let choice = BoatChoice::Options(boat.options().collect());
            let study = Study::of(model.clone(), choice).unwrap();
            for (key, finding) in keyed(&study.findings) {
                if finding.fails() {
                    plain.fails.entry(key).or_default().push(boat.clone());
                }
                match plain.worst.get(&key) {
                    Some(known) if rank(known) >= rank(&finding) => {}
                    _ => drop(plain.worst.insert(key, finding)),
                }
            }
            let nominal = |one: &&Operating| one.condition == SourceCondition::Nominal;
            for operating in study.operating.iter().filter(nominal) {
                for (load, point) in &operating.loads {
                    if let LoadPoint::Supplied(supplied) = point {
                        let most = plain.drops.entry(*load).or_insert(f64::NEG_INFINITY);
                        *most = most.max(supplied.drop_percent());
                    }
                }
            }
        }
        plain
    }

    /// The worst of each limit is what the search found, and no limit is missing.
    fn compare_worst(&self, findings: &[Finding], every: &EveryBoat, faults: &mut Vec<String>) {
        let (candidates, unproven) = (&every.candidates, &every.unproven);
        let found = keyed(findings);
        for (key, expected) in &self.worst {
            let Some(own) = found.get(key) else {
                faults.push(format!("{key:?} is missing"));
                continue;
            };
            let (one, other) = (LimitUse::of(own).used(), LimitUse::of(expected).used());
            let close = one == other || (one - other).abs() <= 1e-9 * other.abs();
            // Where loads of some boat have no operating point, currents are searched only on the
            // boats judged, which is told.
            let told = |what: &str| unproven.iter().any(|told| told.contains(what));
            let close = close || (told("no operating point") && key.0 == rules::CURRENT_CODE);
            let close = close || (told("currents of") && key.0 == rules::CURRENT_CODE);
            // No boat has more than the bound on what comes back.
            let most = match key.1 {
                Place::Wire(wire) => candidates.most_together.get(&wire),
                _ => None,
            };
            let sum = expected.value.as_ref().filter(|value| value.unit == "A");
            if key.0 == rules::RETURN_CODE
                && let Some(sum) = sum
                && most.is_none_or(|most| sum.value > most * (1.0 + 1e-9))
            {
                faults.push(format!("{key:?} is {} A, over {most:?}", sum.value));
            }
            // A return of one load is held to areas, which are no quantity: as thick or thinner.
            let areas = |finding: &Finding| finding.value.as_ref().is_some_and(|v| v.unit == "mm²");
            let close = close || (key.0 == rules::RETURN_CODE && (areas(own) || areas(expected)));
            let same = own.outcome.word() == expected.outcome.word()
                && (close || matches!(own.outcome, Outcome::NotEvaluated(_)));
            if !same {
                faults.push(format!(
                    "{key:?}\n  {} {}\n  {} {}",
                    own.outcome.word(),
                    own.message,
                    expected.outcome.word(),
                    expected.message
                ));
            }
        }
        let nowhere = found.keys().filter(|key| !self.worst.contains_key(*key));
        faults.extend(nowhere.map(|key| format!("{key:?} is on no boat")));
    }

    /// The volts of each load are those of the boat on which it loses most.
    fn compare_supplies(&self, supplies: &BTreeMap<Index<Load>, Supply>, faults: &mut Vec<String>) {
        let own: BTreeMap<_, _> = supplies
            .iter()
            .map(|(load, supply)| (*load, supply.drop_percent))
            .collect();
        let same = own.len() == self.drops.len()
            && own.iter().zip(&self.drops).all(|((a, one), (b, other))| {
                a == b && (one - other).abs() <= 1e-9 * other.abs().max(1.0)
            });
        if !same {
            faults.push(format!("drops {own:?}\n  {:?}", self.drops));
        }
    }
}

/// Compares drawn models with judging every boat of them; what was found.
fn compare(models: &[Drawn], width: Width) -> Tally {
    let mut tally = Tally::default();
    let mut faults: Vec<String> = Vec::new();
    for Drawn { seed, model, plain } in models {
        let options = options_of(model);
        let set = BoatSet::of(&options).unwrap();
        let (routing, first) = (Routing::of(model), set.fullest().unwrap());
        let (every, findings) = EveryBoat::within(
            model,
            &routing,
            &options,
            &set,
            &first,
            (Counted::Yes, width),
            None,
        )
        .unwrap();
        tally.models += 1;
        tally.limits += plain.worst.len();
        tally.proven += every.candidates.proven;
        tally.unproven += every.unproven.len();
        tally.solves += every.candidates.solves;
        tally.judged += every.candidates.boats.len();
        tally.in_all += every.candidates.judged_in_all();
        let mut here = Vec::new();
        plain.compare_worst(&findings, &every, &mut here);
        plain.compare_supplies(&every.supplies, &mut here);
        let fewest = plain.boats.iter().map(|boat| boat.options().count()).min();
        if !plain.boats.contains(&every.standard)
            || Some(every.standard.options().count()) != fewest
        {
            here.push(format!("{:?} is no standard boat", every.standard));
        }
        for (quantity, (worst, state)) in &every.candidates.worst {
            let own = on_its_boat(model, &routing, &worst.way.boat, *quantity, *state);
            if own.is_none_or(|own| (own - worst.value).abs() > 1e-6 * own.abs().max(1.0)) {
                let value = worst.value;
                here.push(format!("{quantity:?} {state:?} is {own:?}, not {value}"));
            }
        }
        for (number, finding) in findings.iter().enumerate().filter(|(_, f)| f.fails()) {
            let fails = keyed(std::slice::from_ref(finding)).into_keys().next();
            let fails = fails.and_then(|key| plain.fails.get(&key));
            if fails.is_some_and(|boats| !boats.contains(every.boat(number))) {
                let boat = every.boat(number);
                here.push(format!("{boat:?} holds though told: {}", finding.message));
            }
        }
        tally.reached.compare(plain, &every, &findings, &mut here);
        faults.extend(
            here.into_iter()
                .map(|fault| format!("seed {seed}: {fault}")),
        );
    }
    assert!(
        faults.is_empty(),
        "{} faults\n{}",
        faults.len(),
        faults[..faults.len().min(12)].join("\n")
    );
    tally
}

#[test]
fn quantities_are_told_by_their_thing() {
    let model = file_format::read(&drawn::drawn(0).to_string()).unwrap();
    let load = model.loads.find("l0").unwrap();
    let wire = Part::Wire(model.wires.find("w1").unwrap());
    let source = model.sources.find("bank").unwrap();
    let told = [
        (Quantity::Drop(load), "drop of l0"),
        (Quantity::VoltsLeft(load), "volts left at l0"),
        (Quantity::Current(wire), "current of wire w1"),
        (Quantity::CurrentBack(wire), "current of wire w1"),
        (Quantity::Given(source), "current of source bank"),
        (Quantity::Taken(source), "current of source bank"),
    ];
    for (quantity, words) in told {
        assert_eq!(quantity.words(&model), words);
    }
}
