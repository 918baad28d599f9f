//! The decisions of a proposal in words, each with its numbers and its alternatives.

use super::Candidate;
use super::ask::{Ask, Fitted};
use super::likes::Likes;
use super::places::{Distances, Refused, returns};
use super::proposal::{Alternative, Choice, Proposal};
use super::trial::{Trial, stocked};
use crate::choices::{DropClass, Function};
use crate::effect::ConductorCost;
use crate::file_format::records::ConductorPartRecord;
use crate::model::BoatModel;
use crate::study::Study;
use crate::tables::{conductors, protection};
use crate::working::significant;

/// Most things that could not be evaluated named one by one.
const MOST_NAMED: usize = 6;
/// Sizes and ratings offered beside the one proposed.
const MOST_OFFERED: usize = 6;

/// A trial chosen among others.
pub(super) struct Choosing<'a> {
    pub study: &'a Study,
    pub ask: &'a Ask,
    /// Conductors of the builder's parts list.
    pub conductors: &'a [ConductorPartRecord],
    pub candidates: &'a [Candidate],
    pub refused: &'a [Refused],
    /// With the number of their candidate, the best first; at least one.
    pub trials: &'a [(usize, Trial)],
}

impl Choosing<'_> {
    fn model(&self) -> &BoatModel {
        &self.study.model
    }

    fn best(&self) -> (&Candidate, &Trial) {
        let (at, trial) = &self.trials[0];
        (&self.candidates[*at], trial)
    }

    pub(super) fn proposal(&self) -> Proposal {
        let (_, trial) = self.best();
        let plan = &trial.plan;
        Proposal {
            record: trial.record.clone(),
            option: plan.option.clone(),
            load: plan.load.clone(),
            circuit: plan.circuit.clone(),
            choices: self.choices(),
            cautions: self.cautions(),
        }
    }

    fn choices(&self) -> Vec<Choice> {
        let mut choices = vec![
            self.code(),
            self.number(),
            self.feed(),
            self.back(),
            self.device(),
        ];
        choices.push(self.size());
        choices.push(self.route());
        choices.push(self.fitted());
        choices.extend(self.tail());
        choices.push(self.color());
        choices.push(self.label());
        choices.push(self.states());
        choices.push(self.class());
        choices
    }

    fn code(&self) -> Choice {
        let plan = &self.best().1.plan;
        let reason = match self.ask.code.trim().is_empty() {
            true => "Made from the name; no option has it yet.",
            false => "As asked for; no option has it yet.",
        };
        Choice::told("Code of the option", plan.option.clone(), reason)
            .by("code", plan.option.clone())
    }

    fn number(&self) -> Choice {
        let plan = &self.best().1.plan;
        let reason = "The number after the greatest of the model; no circuit and no wire has it.";
        Choice::told("Circuit number", plan.circuit.clone(), reason)
    }

    /// A candidate with its numbers.
    fn candidate_words(&self, candidate: &Candidate) -> String {
        let crossed = match (
            candidate.way.crossings.is_empty(),
            candidate.way.past_connectors,
        ) {
            (true, false) => String::new(),
            (true, true) => ", past the connectors".to_owned(),
            (false, _) => format!(", through {}", candidate.way.words(self.model())),
        };
        format!(
            "free, {}; {:.1} m of runs away{crossed}",
            candidate.feed.words(),
            candidate.way.length
        )
    }

    fn feed(&self) -> Choice {
        let model = self.model();
        let likes = Likes::of(model);
        let (chosen, trial) = self.best();
        let value =
            |one: &Candidate| format!("{}.{}", model.buses.id(one.feed.bus), one.feed.position);
        let words = |one: &Candidate| {
            format!(
                "{}, position {}",
                likes.bus(one.feed.bus),
                one.feed.position
            )
        };
        let mut others: Vec<Alternative> = Vec::new();
        for (at, other) in self.candidates.iter().enumerate() {
            let known = others.iter().any(|one| one.value == value(other));
            if known || value(other) == value(chosen) {
                continue;
            }
            let tried = self.trials.iter().find(|(tried, _)| *tried == at);
            let tried = match tried {
                Some((_, trial)) if !trial.fails.is_empty() => {
                    format!(
                        "; tried: {} limits would fail that do not now",
                        trial.fails.len()
                    )
                }
                Some(_) => "; tried: breaks nothing".to_owned(),
                None => "; not tried".to_owned(),
            };
            others.push(Alternative {
                value: value(other),
                words: format!("{}: {}{tried}", words(other), self.candidate_words(other)),
            });
        }
        let mut reason = format!("{}.", upper(&self.candidate_words(chosen)));
        if self.ask.decided.feed.is_none() {
            let clean = trial.fails.is_empty();
            reason.push_str(match clean {
                true => " The nearest that breaks no limit on any boat.",
                false => " Of the ways tried the one that breaks fewest limits.",
            });
        }
        for one in self.refused {
            reason.push_str(&format!(" Not {}: {}.", likes.bus(one.bus), one.why));
        }
        Choice::told("Fed from", words(chosen), reason)
            .by("feed", value(chosen))
            .or(others)
    }

    fn back(&self) -> Choice {
        let model = self.model();
        let likes = Likes::of(model);
        let (chosen, trial) = self.best();
        let (bar, position) = trial.plan.back;
        let mut distances = Distances::of(model);
        let bars = returns(model, &mut distances, chosen.feed.bus);
        let told = |used: usize| match used {
            0 => "no circuit of this block returns to it".to_owned(),
            1 => "1 return of this block ends there".to_owned(),
            _ => format!("{used} returns of this block end there"),
        };
        let used = bars.iter().find(|one| one.0 == bar).map_or(0, |one| one.2);
        let others = bars
            .iter()
            .filter(|one| one.0 != bar)
            .map(|(bus, position, used)| Alternative {
                value: model.buses.id(*bus).to_owned(),
                words: format!("{}, position {position}: {}", likes.bus(*bus), told(*used)),
            });
        let words = format!("{}, position {position}", likes.bus(bar));
        let reason = format!(
            "{}; position {position} is free on every boat.",
            upper(&told(used))
        );
        Choice::told("Returned to", words, reason)
            .by("back", model.buses.id(bar))
            .or(others.collect())
    }

    fn device(&self) -> Choice {
        let (chosen, trial) = self.best();
        let plan = &trial.plan;
        let kind = plan
            .family
            .map_or("device of no stated family", protection::title);
        let mut reason = if self.ask.decided.rating_a.is_some() {
            "As asked for.".to_owned()
        } else {
            format!(
                "The smallest that is at least the {} A it draws at most, of a family that the \
                 block holds and, where there is one, of a rating that the model uses.",
                significant(chosen.amperes, 3)
            )
        };
        if !trial.rating_reason.is_empty() {
            reason.push_str(&format!(" Raised: {}", trial.rating_reason));
        }
        let ratings = plan
            .family
            .into_iter()
            .flat_map(protection::standard_ratings);
        let larger = ratings
            .map(|row| row.rating.value.value())
            .filter(|rating| *rating >= chosen.amperes && *rating != plan.rating)
            .take(MOST_OFFERED);
        let others = larger.map(|rating| Alternative {
            value: rating.to_string(),
            words: format!("{rating} A"),
        });
        Choice::told(
            "Protected by",
            format!("{} A, {kind}, {}", plan.rating, plan.device),
            reason,
        )
        .by("rating_a", plan.rating.to_string())
        .or(others.collect())
    }

    fn size(&self) -> Choice {
        let trial = self.best().1;
        let plan = &trial.plan;
        let reason = if self.ask.decided.size.is_some() {
            "As asked for.".to_owned()
        } else {
            format!(
                "The smallest found that breaks no limit on any boat, raised from the thinnest feed \
                 of the model: {}",
                stop(&trial.size_reason)
            )
        };
        let area = |size| conductors::row(size).map(|row| row.area.value.value());
        let sizes = stocked(self.model());
        let here = sizes
            .iter()
            .position(|size| *size == plan.size)
            .unwrap_or(0);
        let near = sizes.iter().skip(here.saturating_sub(2)).take(MOST_OFFERED);
        let others = near
            .filter(|size| **size != plan.size)
            .map(|size| Alternative {
                value: size.to_string(),
                words: match area(*size) {
                    Some(area) => format!("{size}, {} mm²", significant(area, 3)),
                    None => size.to_string(),
                },
            });
        Choice::told("Size of feed and return", plan.size.to_string(), reason)
            .by("size", plan.size.to_string())
            .or(others.collect())
    }

    fn route(&self) -> Choice {
        let (_, trial) = self.best();
        let zones = match trial.zones.is_empty() {
            true => "inside one point".to_owned(),
            false => trial.zones.join(", "),
        };
        let length = trial.feed_m.map_or_else(
            || {
                "The length is not evaluated, because the way of a wire or an end is not stated"
                    .to_owned()
            },
            |meters| format!("{} m of feed, cut length", significant(meters, 3)),
        );
        let crossing = if !trial.way.crossings.is_empty() {
            format!(
                ", through {}, free on every boat",
                trial.way.words(self.model())
            )
        } else if trial.way.past_connectors {
            ", past the connectors between the mouldings: none has two free cavities for it"
                .to_owned()
        } else {
            ", without a connector: none is needed inside one moulding".to_owned()
        };
        let reason = format!("{length}, along the shortest open runs{crossing}.");
        Choice::told("Route through the zones", zones, reason)
    }

    fn fitted(&self) -> Choice {
        let trial = self.best().1;
        let (ahead, with) = Likes::of(self.model()).wired_ahead();
        let cost = ConductorCost::of(&trial.conductor, self.conductors);
        let priced = |words: String| match cost.amount {
            Ok(_) => format!(" (conductor {words})"),
            Err(_) => String::new(),
        };
        let unpriced = match cost.amount {
            Ok(_) => String::new(),
            Err(_) => format!("; cost of conductor {}", cost.words()),
        };
        let copper = match (trial.conductor.whole_copper_kg(), self.ask.take_rate) {
            (None, _) => "copper not evaluated, because a length is not known".to_owned(),
            (Some(mass), None) => format!(
                "{:.0} g of copper{} on each boat that has the wires; how many take the option is \
                 not stated{unpriced}",
                mass * 1000.0,
                priced(cost.words())
            ),
            (Some(mass), Some(share)) => format!(
                "{:.0} g of copper{} on every boat in the main harness, {:.0} g{} on an average \
                 boat as an add-on at a take rate of {} %{unpriced}",
                mass * 1000.0,
                priced(cost.words()),
                mass * share * 1000.0,
                priced(cost.words_of_share(share)),
                significant(share * 100.0, 3)
            ),
        };
        let usual = format!(
            "{ahead} optional components of this model are wired ahead in a harness of more boats, \
             {with} only with their option"
        );
        let through = match trial.way.crossings.is_empty() {
            true => "",
            false => " Through couplers the wires belong to the harnesses they join.",
        };
        let reason = format!(
            "{}; {copper}. The coupler of an add-on, ends, minutes and part numbers are weighed on \
             the page Harness contents.{through}",
            upper(&usual)
        );
        let words = |fitted: Fitted| match fitted {
            Fitted::Main => "in the main harness, wired ahead on every boat",
            Fitted::AddOn => "in an add-on harness that comes with the option",
        };
        let chosen = trial.plan.fitted;
        let other = match chosen {
            Fitted::Main => Fitted::AddOn,
            Fitted::AddOn => Fitted::Main,
        };
        Choice::told("Harness", words(chosen), reason)
            .by("fitted", chosen.word())
            .or(vec![Alternative {
                value: other.word().to_owned(),
                words: words(other).to_owned(),
            }])
    }

    fn tail(&self) -> Option<Choice> {
        let trial = self.best().1;
        let wires = trial.record.wires.iter();
        let mut ends = wires.filter_map(|wire| {
            let end = [&wire.from_end, &wire.to_end];
            let mut treated = end
                .into_iter()
                .flatten()
                .filter_map(|end| end.when_unused.as_ref());
            let own = wire.circuit.as_deref() == Some(trial.plan.circuit.as_str());
            own.then(|| treated.next()).flatten()
        });
        let end = ends.next()?;
        let part = end.part.as_deref().map_or_else(
            || {
                "the part is not stated, because no end of this size is capped in the model"
                    .to_owned()
            },
            |part| format!("part {part}, as on other ends of this size"),
        );
        let tied = end.tie_point.as_deref().unwrap_or("no point");
        let reason = format!("The wires are on boats without the component: {part}.");
        Some(Choice::told(
            "Ends on boats without it",
            format!("{}, tied at {tied}", end.treatment),
            reason,
        ))
    }

    fn color(&self) -> Choice {
        let plan = &self.best().1.plan;
        let function = self.ask.function.unwrap_or(Function::AccessoryFeed);
        let why = match self.ask.decided.color.is_some() {
            true => "as asked for".to_owned(),
            false => Likes::of(self.model()).feed_color(function).1,
        };
        let words = format!("feed {}, return {}", plan.color, plan.return_color);
        let reason = format!("{}; the return as most returns of the model.", upper(&why));
        Choice::told("Colors", words, reason).by("color", plan.color.clone())
    }

    fn label(&self) -> Choice {
        let trial = self.best().1;
        let own = trial.record.wires.iter();
        let own = own.filter(|wire| wire.circuit.as_deref() == Some(trial.plan.circuit.as_str()));
        let ids: Vec<_> = own.map(|wire| wire.id.clone()).collect();
        let reason =
            "Circuit number, then F for feed and R for return, counted from where each starts.";
        Choice::told("Labels", ids.join(", "), reason)
    }

    fn states(&self) -> Choice {
        let model = self.model();
        let names = self
            .ask
            .runs_in
            .iter()
            .filter_map(|state| model.states.get(state));
        let names: Vec<_> = names.map(|state| state.title().to_owned()).collect();
        match (names.is_empty(), model.states.is_empty()) {
            (true, true) => {
                Choice::told("Runs in", "always", "The model states no operating states.")
            }
            (true, false) => Choice::told(
                "Runs in",
                "every operating state",
                "None was chosen: it is judged running in each, the strictest reading.",
            ),
            (false, _) => Choice::told(
                "Runs in",
                names.join(", "),
                "As asked for, all of the time there.",
            ),
        }
    }

    fn class(&self) -> Choice {
        let reason = match self.ask.drop_class {
            Some(_) => "As asked for.",
            None => "None was chosen, so it is held to the wider limit of the two.",
        };
        let words = match self.ask.drop_class.unwrap_or(DropClass::Other) {
            DropClass::Critical => "critical: 3 % of the nominal volts",
            DropClass::Other => "other: 10 % of the nominal volts",
        };
        Choice::told("Drop held to", words, reason)
    }

    fn cautions(&self) -> Vec<String> {
        let (chosen, trial) = self.best();
        let mut cautions: Vec<String> = trial
            .fails
            .iter()
            .map(|message| format!("A limit would fail that does not now: {message}"))
            .collect();
        if trial.way.past_connectors {
            cautions.push(format!(
                "A connector is needed: {} lies in another moulding than {}, and no coupler between \
                 them has two free cavities that take {} A. The wires are routed past the \
                 connectors; add one before the boat is built.",
                self.ask.point,
                self.model().buses.id(chosen.feed.bus),
                significant(chosen.amperes, 3)
            ));
        }
        let reserve = chosen.feed.reserve();
        if reserve.is_none() {
            cautions.push(format!("{}.", upper(&chosen.feed.words())));
        } else if reserve.is_some_and(|left| left < chosen.amperes) {
            cautions.push(format!(
                "The block chosen has too little left: it draws {} A, {}.",
                significant(chosen.amperes, 3),
                chosen.feed.words()
            ));
        }
        let own = trial.record.wires.iter();
        let own = own.filter(|wire| wire.circuit.as_deref() == Some(trial.plan.circuit.as_str()));
        for wire in own {
            for (pin, end) in [(&wire.from, &wire.from_end), (&wire.to, &wire.to_end)] {
                let cavity = pin
                    .rsplit_once('.')
                    .and_then(|(thing, _)| self.model().connectors.find(thing));
                let bare = end.as_ref().is_none_or(|end| end.terminal.is_none());
                if bare && cavity.is_none() {
                    cautions.push(format!(
                        "No terminal is proposed for the end of {} at {pin}: no part of the model fits {} there.",
                        wire.id, trial.plan.size
                    ));
                }
            }
        }
        let unknown = &trial.unknown;
        cautions.extend(unknown.iter().take(MOST_NAMED).cloned());
        if unknown.len() > MOST_NAMED {
            cautions.push(format!(
                "{} more could not be evaluated.",
                unknown.len() - MOST_NAMED
            ));
        }
        cautions
    }
}

/// With a full stop at the end.
fn stop(text: &str) -> String {
    let text = text.trim_end();
    match text.ends_with('.') {
        true => text.to_owned(),
        false => format!("{text}."),
    }
}

/// With a capital first letter.
fn upper(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}
