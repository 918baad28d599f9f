//! One optional component added to a model: what is asked, what is proposed and why, as a whole
//! model to be accepted or not.
//!
//! Nothing is estimated that can be judged: each way of wiring is built as a model and every
//! limit judged over every boat; a size follows from the rules and the sizing, a block from its
//! free positions and the boat on which its feed carries most. What is not stated is not assumed:
//! it is told beside the proposal.

mod ask;
mod proposal;
mod places;
mod crossing;
mod likes;
mod build;
mod trial;
mod told;
#[cfg(test)]
mod tests;

pub use ask::{Ask, AskFault, Decided, Draws, Figures, Fitted, Ordered, code_from};
pub use proposal::{Alternative, Choice, Proposal};

use crate::boats::{BoatSet, Condition, OptionIndex};
use crate::choices::{BusKind, Family, Function};
use crate::file_format;
use crate::file_format::records::ConductorPartRecord;
use crate::model::{BoatModel, Bus, BusPin, Identified, Index, Pin};
use crate::rules::LimitKey;
use crate::study::{Study, options_of};
use crate::tables::protection;
use crate::units::Amperes;
use build::Plan;
use crossing::{Wanted, Way, ways};
use likes::Likes;
use places::{Distances, Feed, Refused, comes_with, feeds, returns};
use std::collections::BTreeSet;
use trial::{Trial, Trying, refused, stocked};

/// Most ways tried before the one that breaks least is taken: each is a study of every boat.
const MOST_TRIED: usize = 5;
/// Wires of a model up to which so many ways are tried; of a larger one fewer, to answer in time.
const WIRES_TRIED: usize = 1_500;

/// A way of feeding the component that may be tried.
#[derive(Clone, Debug)]
struct Candidate {
    feed: Feed,
    way: Way,
    back: (Index<Bus>, u32),
    family: Option<Family>,
    rating: f64,
    /// What it draws at most, for device and reserve.
    amperes: f64,
}

/// Proposes how to add one optional component to a model studied on every boat; what its
/// conductor costs is told by the prices that `conductors` state.
///
/// # Errors
/// Everything wrong with what is asked; where no block can feed it, each with its reason.
pub fn propose(
    study: &Study,
    ask: &Ask,
    conductors: &[ConductorPartRecord],
) -> Result<Proposal, Vec<AskFault>> {
    let model = &study.model;
    let faults = ask.faults(model);
    if !faults.is_empty() {
        return Err(faults);
    }
    if study.every.is_none() {
        let why = study.not_every.as_ref().map(ToString::to_string);
        let detail = format!(
            "nothing can be proposed, because not every boat could be judged: {}",
            why.unwrap_or_else(|| "one boat is in view".to_owned())
        );
        return Err(vec![AskFault::new("ordered", detail)]);
    }
    let stated = file_format::record(model);
    let (boats, option) = ordered(ask, &stated)?;
    let Some(boat) = boats.having(&[option], &[]).fullest() else {
        let detail = "with these rules no boat could be ordered with it: take one of them back";
        return Err(vec![AskFault::new("ordered", detail)]);
    };
    let (candidates, refused) = candidates(study, ask, &boats, option)?;
    let before: BTreeSet<LimitKey> = study
        .findings
        .iter()
        .filter(|finding| finding.fails())
        .map(|finding| finding.limit_key())
        .collect();
    let trying = Trying {
        study,
        stated: &stated,
        ask,
        boat: &boat,
        before: &before,
    };
    let mut trials: Vec<(usize, Trial)> = Vec::new();
    for (at, candidate) in candidates
        .iter()
        .enumerate()
        .take((WIRES_TRIED / model.wires.len().max(1)).clamp(1, MOST_TRIED))
    {
        let plan = plan(study, ask, &stated, candidate);
        let trial = trying.run(plan, &candidate.way)?;
        let clean = trial.fails.is_empty();
        trials.push((at, trial));
        if clean {
            break;
        }
    }
    trials.sort_by_key(|(at, trial)| (trial.fails.len(), *at));
    if trials.is_empty() {
        return Err(vec![no_block(model, ask, &refused)]);
    }
    let choosing = told::Choosing {
        study,
        ask,
        conductors,
        candidates: &candidates,
        refused: &refused,
        trials: &trials,
    };
    Ok(choosing.proposal())
}

/// The boats with the option under its rules, and the option among them.
fn ordered(
    ask: &Ask,
    stated: &file_format::ModelRecord,
) -> Result<(BoatSet, OptionIndex), Vec<AskFault>> {
    let record = build::with_option(stated, ask, &ask.option_code());
    let model = file_format::model(&record).map_err(|faults| refused(&faults))?;
    let options = options_of(&model);
    let boats =
        BoatSet::of(&options).map_err(|wide| vec![AskFault::new("ordered", wide.to_string())])?;
    Ok((boats, OptionIndex(stated.options.len())))
}

/// Ways to feed it, the best to try first; and the blocks that cannot.
fn candidates(
    study: &Study,
    ask: &Ask,
    boats: &BoatSet,
    option: OptionIndex,
) -> Result<(Vec<Candidate>, Vec<Refused>), Vec<AskFault>> {
    let model = &study.model;
    let Some(to) = model.points.find(&ask.point) else {
        return Err(vec![AskFault::new("point", "choose where it sits")]);
    };
    let (mut found, mut refused) = feeds(study, boats, option, ask.stated_at_v);
    if let Some((block, position)) = &ask.decided.feed {
        let bus = decided_feed(model, block, *position).map_err(|fault| vec![fault])?;
        if let Some(why) = refused.iter().find(|one| one.bus == bus) {
            let detail = format!("this block cannot feed it: {}; choose another", why.why);
            return Err(vec![AskFault::new("feed", detail).given(block)]);
        }
        found.retain(|feed| feed.bus == bus);
        found.iter_mut().for_each(|feed| feed.position = *position);
    }
    let back = ask.decided.back.as_ref();
    let back = back
        .map(|bar| decided_return(model, bar))
        .transpose()
        .map_err(|fault| vec![fault])?;
    let mut distances = Distances::of(model);
    let mut candidates = Vec::new();
    for feed in found {
        let bus = feed.bus;
        let mut refuse = |why: String| refused.push(Refused { bus, why });
        let Some(amperes) = most_amperes(model, ask, &feed) else {
            let why = "neither its source nor the component states volts, so that the current is \
                not known";
            refuse(why.to_owned());
            continue;
        };
        let (family, rating) = match device(model, ask, bus, amperes) {
            Ok(device) => device,
            Err(why) => {
                refuse(why);
                continue;
            }
        };
        let chosen = ask.decided.feed.is_some();
        if feed.reserve().is_some_and(|left| left < amperes) && !chosen {
            refuse(format!("it draws {amperes:.1} A, {}", feed.words()));
            continue;
        }
        let bars = returns(model, &mut distances, bus);
        let there = |bar: &Index<Bus>| comes_with(boats, option, &model.buses[*bar].fitted_when);
        let bar = bars
            .iter()
            .map(|(bar, position, _)| (*bar, *position))
            .find(|(bar, _)| there(bar));
        let Some(back) = back.or(bar) else {
            refuse("no bar for its return has a free position".to_owned());
            continue;
        };
        let Some(from) = model.buses[bus].point else {
            continue;
        };
        let condition: &Condition = &model.buses[bus].fitted_when;
        let wanted = Wanted {
            amperes,
            fitted: condition,
        };
        let found = ways(model, &mut distances, from, to, wanted);
        if found.is_empty() {
            refuse(format!("no open run leads from it to {}", ask.point));
        }
        candidates.extend(found.into_iter().take(2).map(|way| Candidate {
            feed: feed.clone(),
            way,
            back,
            family,
            rating,
            amperes,
        }));
    }
    candidates.sort_by(|a, b| {
        let rank = |one: &Candidate| (one.way.past_connectors, one.way.crossings.len() > 1);
        rank(a)
            .cmp(&rank(b))
            .then(a.way.length.total_cmp(&b.way.length))
            .then(a.feed.bus.cmp(&b.feed.bus))
    });
    if candidates.is_empty() {
        return Err(vec![no_block(model, ask, &refused)]);
    }
    Ok((candidates, refused))
}

/// Amperes it draws at most: a power at the lowest volts of its source, a resistance at the
/// highest; `None` where no volts are stated that tell it.
fn most_amperes(model: &BoatModel, ask: &Ask, feed: &Feed) -> Option<f64> {
    let source = feed
        .upstream
        .as_ref()
        .map(|upstream| &model.sources[upstream.source]);
    let extreme = match ask.draws {
        Draws::Current(amperes) => return Some(amperes),
        Draws::Power(_) => source.and_then(|one| one.low),
        Draws::Resistance(_) => source.and_then(|one| one.running),
    };
    let stated = extreme.or(source.and_then(|one| one.nominal));
    let volts = stated.map(|volts| volts.value()).or(ask.stated_at_v)?;
    Some(ask.draws.amperes_at(volts))
}

/// Family and least rating for the block: of the families in it the one with the least enough.
fn device(
    model: &BoatModel,
    ask: &Ask,
    bus: Index<Bus>,
    amperes: f64,
) -> Result<(Option<Family>, f64), String> {
    let usual = Likes::of(model).family(bus);
    let here: BTreeSet<Family> = model
        .devices
        .iter()
        .filter(|(_, one)| one.fitted_in.map(|(block, _)| block) == Some(bus))
        .filter_map(|(_, one)| one.family)
        .chain(usual)
        .collect();
    if here.is_empty() {
        let rating = ask.decided.rating_a.ok_or(
            "the model states no family of device for it: state one in the model, or give a rating",
        )?;
        return Ok((None, rating));
    }
    if let Some(rating) = ask.decided.rating_a {
        let sold = |family: &&Family| {
            protection::standard_ratings(**family)
                .any(|row| row.rating.value == Amperes::new(rating))
        };
        return Ok((here.iter().find(sold).copied().or(usual), rating));
    }
    let least = here
        .iter()
        .filter_map(|family| {
            // A rating in use is in stock, and its resistance known.
            let used = Likes::of(model).rating_in_use(*family, amperes);
            let next = protection::next_standard(*family, Amperes::new(amperes));
            Some((*family, used.or(next.map(|next| next.value.value()))?))
        })
        .min_by(|a, b| {
            a.1.total_cmp(&b.1)
                .then((Some(b.0) == usual).cmp(&(Some(a.0) == usual)))
        });
    let names: Vec<_> = here
        .iter()
        .map(|family| protection::title(*family))
        .collect();
    least
        .map(|(family, rating)| (Some(family), rating))
        .ok_or_else(|| {
            format!(
                "it draws {amperes:.1} A, and no {} is rated for that",
                names.join(" or ")
            )
        })
}

/// The block named, with this position free.
fn decided_feed(model: &BoatModel, block: &str, position: u32) -> Result<Index<Bus>, AskFault> {
    let blocks = model
        .buses
        .iter()
        .filter(|(_, bus)| bus.kind == BusKind::FuseBlock);
    let known: Vec<_> = blocks.map(|(_, bus)| bus.id()).collect();
    let bus = model
        .buses
        .find(block)
        .filter(|bus| model.buses[*bus].kind == BusKind::FuseBlock);
    let Some(bus) = bus else {
        let detail = "this boat model has no such fuse block: choose another";
        return Err(AskFault::new("feed", detail)
            .given(block)
            .limit(known.join(", ")));
    };
    let free = model.free_positions(bus);
    if free.contains(&position) {
        return Ok(bus);
    }
    let pin = Pin::Bus(bus, BusPin::Position(position));
    let devices = model
        .devices
        .iter()
        .filter(|(_, one)| one.fitted_in == Some((bus, position)));
    let wires = model
        .wires
        .iter()
        .filter(|(_, one)| one.from == pin || one.to == pin);
    let taken: Vec<_> = devices
        .map(|(_, one)| format!("{} {}", one.kind, one.id))
        .chain(wires.map(|(_, one)| format!("wire {}", one.id)))
        .collect();
    let detail = if taken.is_empty() {
        format!(
            "{block} has positions 1 to {}: choose one of them",
            model.buses[bus].positions
        )
    } else {
        format!(
            "position {position} of {block} is taken by {}: choose a free one",
            taken.join(" and ")
        )
    };
    let free: Vec<_> = free.iter().map(ToString::to_string).collect();
    let limit = match free.is_empty() {
        true => "no position is free".to_owned(),
        false => format!("free: {}", free.join(", ")),
    };
    Err(AskFault::new("feed", detail)
        .given(format!("{block}.{position}"))
        .limit(limit))
}

/// The bar named, with its first free position.
fn decided_return(model: &BoatModel, bar: &str) -> Result<(Index<Bus>, u32), AskFault> {
    let bus = model
        .buses
        .find(bar)
        .filter(|bus| model.buses[*bus].kind == BusKind::Busbar);
    let Some(bus) = bus else {
        let bars = model
            .buses
            .iter()
            .filter(|(_, bus)| bus.kind == BusKind::Busbar);
        let known: Vec<_> = bars.map(|(_, bus)| bus.id()).collect();
        let detail = "this boat model has no such bar: choose another";
        return Err(AskFault::new("back", detail)
            .given(bar)
            .limit(known.join(", ")));
    };
    let free = model.free_positions(bus);
    let first = free.first().ok_or_else(|| {
        let detail = "all positions of this bar are taken on some boat: choose another";
        AskFault::new("back", detail).given(bar)
    })?;
    Ok((bus, *first))
}

/// What to do where no block can feed it.
fn no_block(model: &BoatModel, ask: &Ask, refused: &[Refused]) -> AskFault {
    let each = refused
        .iter()
        .map(|one| format!("{}: {}", model.buses.id(one.bus), one.why));
    let each: Vec<_> = each.collect();
    let why = match each.is_empty() {
        true => "the model states no fuse block".to_owned(),
        false => each.join("; "),
    };
    let detail = format!(
        "no block of this model can feed it ({why}): give a block more room or a larger feeder, or \
         take a component that draws less"
    );
    let (value, unit) = match ask.draws {
        Draws::Current(value) => (value, "A"),
        Draws::Power(value) => (value, "W"),
        Draws::Resistance(value) => (value, "ohm"),
    };
    AskFault::new("draws", detail).given(format!("{value} {unit}"))
}

fn plan(
    study: &Study,
    ask: &Ask,
    stated: &file_format::ModelRecord,
    candidate: &Candidate,
) -> Plan {
    let model = &study.model;
    let likes = Likes::of(model);
    let (option, load, circuit, device) = build::names(stated, ask);
    let function = ask.function.unwrap_or(Function::AccessoryFeed);
    let color = ask
        .decided
        .color
        .as_ref()
        .map(|color| color.trim().to_owned());
    let thinnest = likes
        .thinnest_feed()
        .or_else(|| stocked(model).first().copied());
    Plan {
        option,
        load,
        circuit,
        device,
        feed: (candidate.feed.bus, candidate.feed.position),
        back: candidate.back,
        crossings: candidate.way.crossings.clone(),
        family: candidate.family,
        rating: candidate.rating,
        size: ask
            .decided
            .size
            .or(thinnest)
            .unwrap_or(crate::units::WireSize::awg(16)),
        fitted: ask
            .decided
            .fitted
            .unwrap_or(usual_harness(model, candidate)),
        function,
        color: color.unwrap_or_else(|| likes.feed_color(function).0),
        return_color: likes.return_color(),
    }
}

/// As most optional components of the model; through couplers always in the harnesses they join.
fn usual_harness(model: &BoatModel, candidate: &Candidate) -> Fitted {
    let (ahead, with) = Likes::of(model).wired_ahead();
    match candidate.way.crossings.is_empty() && with > ahead {
        true => Fitted::AddOn,
        false => Fitted::Main,
    }
}
