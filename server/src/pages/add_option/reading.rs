//! The fields of the form, read into what the core is asked.

use std::collections::BTreeMap;
use std::sync::Arc;

use harness_core::adding::{Ask, AskFault, Decided, Draws, Figures, Fitted, Ordered};
use harness_core::file_format::PartsRecord;
use harness_core::file_format::records::LoadPartRecord;
use harness_core::model::{Behavior, BoatModel, DropClass, FigureFrom, Load};
use harness_core::parts::shipped;
use harness_core::tabular::measured;
use harness_core::units::{UnitSystem, WireSize};

use crate::error::Fault;
use crate::pages::Places;

/// Fields of the first page, in its order.
pub(super) const ASKED: &[&str] = &[
    "name",
    "like",
    "draws",
    "inrush_a",
    "min_v",
    "drop_class",
    "states",
    "point",
    "ordered",
    "take_rate",
];
/// Fields with which a proposal is changed.
pub(super) const DECIDED: &[&str] = &[
    "code", "feed", "back", "rating_a", "size", "fitted", "color",
];

/// Stands before the number of a part, where a component may be named as well.
pub(super) const PART: &str = "part:";

/// What was sent, field by field; a field may stand several times.
#[derive(Clone, Debug, Default)]
pub struct AddFields {
    sent: BTreeMap<String, Vec<String>>,
    /// The builder's own parts, to take figures from.
    pub(super) own: Arc<PartsRecord>,
}

impl AddFields {
    /// The fields of a query or a body; `own` are the builder's parts.
    pub fn of(pairs: Vec<(String, String)>, own: PartsRecord) -> Self {
        let mut fields: BTreeMap<String, Vec<String>> = BTreeMap::new();
        for (name, value) in pairs {
            // An address may name a part alone: the form has it among what the component is like.
            let (name, value) = match name.as_str() {
                "part" if !value.is_empty() => ("like".to_owned(), format!("{PART}{value}")),
                _ => (name, value),
            };
            fields.entry(name).or_default().push(value);
        }
        Self {
            sent: fields,
            own: Arc::new(own),
        }
    }

    /// Whether the form was sent, or only its address asked for.
    pub fn is_sent(&self) -> bool {
        self.sent.contains_key("name")
    }

    /// Whether a place of the plan was pointed at.
    pub fn is_pointed(&self) -> bool {
        self.place().is_some()
    }

    fn place(&self) -> Option<(f64, f64)> {
        let number = |name: &str| self.text(name).parse::<f64>().ok();
        number("at.x").zip(number("at.y"))
    }

    /// With the point that is nearest to the place that was pointed at.
    #[must_use]
    pub fn pointed(mut self, model: &BoatModel) -> Self {
        let nearest = self.place().and_then(|at| Places::of(model)?.nearest(at));
        if let Some(point) = nearest {
            let id = model.points.id(point).to_owned();
            self.sent.insert("point".to_owned(), vec![id]);
        }
        self
    }

    /// The first value of a field; empty when it was not sent.
    pub fn text(&self, name: &str) -> &str {
        self.all(name).first().map_or("", String::as_str)
    }

    pub(super) fn all(&self, name: &str) -> &[String] {
        self.sent.get(name).map_or(&[], Vec::as_slice)
    }

    pub(super) fn has(&self, name: &str, value: &str) -> bool {
        self.all(name).iter().any(|one| one == value)
    }

    /// These fields as pairs that a form carries on.
    pub(super) fn carried(&self, names: &[&str]) -> Vec<(String, String)> {
        let each = names.iter().flat_map(|name| {
            let values = self.all(name).iter().filter(|value| !value.is_empty());
            values.map(|value| ((*name).to_owned(), value.clone()))
        });
        let mut carried: Vec<_> = each.collect();
        // The name tells that the form was sent, also where it is empty.
        if names.contains(&"name") && self.text("name").is_empty() {
            carried.push(("name".to_owned(), String::new()));
        }
        carried
    }

    /// What is asked of the core; a load to be like gives what is left empty.
    ///
    /// # Errors
    /// Every field that cannot be read.
    pub fn ask(&self, model: &BoatModel) -> Result<Ask, Vec<Fault>> {
        let mut faults = Vec::new();
        let like = self.like(model, &mut faults);
        let part = self.part(&mut faults);
        let (draws, typed) = (
            self.draws(part.as_ref(), like, &mut faults),
            self.text("draws"),
        );
        let (_, from) = with_source(typed);
        let figures = figures(part.as_ref(), like, typed.trim().is_empty(), from);
        let number = |name: &str, faults: &mut Vec<Fault>| number(name, self.text(name), faults);
        let inrush_a = number("inrush_a", &mut faults)
            .or(part.as_ref().and_then(|one| one.inrush_a))
            .or(like.and_then(|one| Some(one.inrush?.value())));
        let min_v = number("min_v", &mut faults)
            .or(part.as_ref().and_then(|one| one.min_v))
            .or(like.and_then(|one| Some(one.min_volts?.value())));
        let take_rate = number("take_rate", &mut faults);
        if let Some(percent) = take_rate.filter(|percent| !(0.0..=100.0).contains(percent)) {
            let detail = "a take rate is a share of all boats: correct it";
            let fault = Fault::new("/take_rate", detail).given(percent);
            faults.push(fault.limit("from 0 to 100 %"));
        }
        let drop_class = match self.text("drop_class") {
            "" => part
                .as_ref()
                .and_then(|one| DropClass::from_word(one.drop_class.as_deref()?))
                .or(like.and_then(|one| one.drop_class)),
            word => DropClass::from_word(word).or_else(|| {
                let detail = "there is no such drop class: choose one of the list";
                faults.push(Fault::new("/drop_class", detail).given(word));
                None
            }),
        };
        let mut runs_in: Vec<String> = self.all("states").to_vec();
        runs_in.retain(|state| !state.is_empty());
        if let Some(like) = like.filter(|_| runs_in.is_empty()) {
            let used = like.runs_in.iter().filter(|used| used.share > 0.0);
            runs_in.extend(used.map(|used| model.states.id(used.state).to_owned()));
        }
        if self.text("point").is_empty() {
            let detail = "say where it sits: choose a point of the list";
            faults.push(Fault::new("/point", detail));
        }
        let ordered = self.ordered(&mut faults);
        let decided = self.decided(&mut faults);
        // Something has to stand where nothing could be read, so that the rest is looked at too.
        let (draws, stated_at_v) = draws.unwrap_or((Draws::Current(1.0), None));
        let ask = Ask {
            code: self.text("code").trim().to_owned(),
            name: self.text("name").trim().to_owned(),
            draws,
            stated_at_v,
            inrush_a,
            min_v,
            drop_class,
            function: like.and_then(|one| model.circuits[one.circuit?].function),
            runs_in,
            point: self.text("point").to_owned(),
            ordered,
            figures,
            take_rate: take_rate.map(|percent| percent / 100.0),
            decided,
        };
        let known: Vec<String> = faults.iter().map(|fault| fault.pointer.clone()).collect();
        let more = at_fields(ask.faults(model)).into_iter();
        faults.extend(more.filter(|fault| !known.contains(&fault.pointer)));
        match faults.is_empty() {
            true => Ok(ask),
            false => Err(faults),
        }
    }

    fn like<'m>(&self, model: &'m BoatModel, faults: &mut Vec<Fault>) -> Option<&'m Load> {
        let asked = self.text("like");
        if asked.starts_with(PART) {
            return None;
        }
        let found = model.loads.get(asked);
        if found.is_none() && !asked.is_empty() {
            let detail = "this boat model has no such component: choose one of the list, or none";
            faults.push(Fault::new("/like", detail).given(asked));
        }
        found
    }

    fn part(&self, faults: &mut Vec<Fault>) -> Option<LoadPartRecord> {
        let asked = self.text("like").strip_prefix(PART)?;
        let lists = [&*self.own, shipped()];
        let mut loads = lists.into_iter().flat_map(|list| &list.loads);
        let found = loads.find(|part| part.id == asked);
        if found.is_none() {
            let detail = "no parts list has such a load now: choose one of the list, or none";
            faults.push(Fault::new("/like", detail).given(asked));
        }
        found.cloned()
    }

    fn draws(
        &self,
        part: Option<&LoadPartRecord>,
        like: Option<&Load>,
        faults: &mut Vec<Fault>,
    ) -> Option<(Draws, Option<f64>)> {
        let (text, _) = with_source(self.text("draws"));
        let of_part = part.and_then(|part| {
            let draws = [
                part.current_a.map(Draws::Current),
                part.power_w.map(Draws::Power),
                part.resistance_ohm.map(Draws::Resistance),
            ];
            Some((draws.into_iter().flatten().next()?, part.stated_at_v))
        });
        let copied = of_part.or_else(|| {
            let one = like?;
            let draws = match one.behavior? {
                Behavior::Current(amperes) => Draws::Current(amperes.value()),
                Behavior::Power(watts) => Draws::Power(watts.value()),
                Behavior::Resistance(ohms) => Draws::Resistance(ohms.value()),
            };
            Some((draws, one.stated_at.map(|volts| volts.value())))
        });
        if text.is_empty() && copied.is_some() {
            return copied;
        }
        let read = draws(text);
        if read.is_none() {
            let detail = match (text.is_empty(), part.is_some(), like.is_some()) {
                (true, true, _) => "the part states no draw: write what this component draws",
                (true, false, true) => {
                    "the component to be like states no figure: write what this one draws"
                }
                (true, false, false) => {
                    "say what it draws, or choose a part or a component that it is like"
                }
                (false, ..) => "this cannot be read: write a number and its unit",
            };
            let fault = Fault::new("/draws", detail);
            let fault = if text.is_empty() {
                fault
            } else {
                fault.given(text)
            };
            faults.push(fault.limit("3 A, or 36 W at 12 V, or 4 ohm, measured"));
        }
        read
    }

    fn ordered(&self, faults: &mut Vec<Fault>) -> Vec<Ordered> {
        let mut ordered = Vec::new();
        for entry in self.all("ordered").iter().filter(|entry| !entry.is_empty()) {
            let rule = entry.split_once(' ').and_then(|(kind, other)| match kind {
                "requires" => Some(Ordered::Requires(other.to_owned())),
                "excludes" => Some(Ordered::Excludes(other.to_owned())),
                "one-of" => Some(Ordered::OneOf(other.to_owned())),
                _ => None,
            });
            match rule {
                Some(rule) => ordered.push(rule),
                None => {
                    let detail = "this is no rule of the list: choose others";
                    faults.push(Fault::new("/ordered", detail).given(entry.as_str()));
                }
            }
        }
        ordered
    }

    fn decided(&self, faults: &mut Vec<Fault>) -> Decided {
        let words =
            |name: &str| Some(self.text(name).trim().to_owned()).filter(|text| !text.is_empty());
        let mut wrong = |name: &str, detail: &str, limit: &str| {
            let fault = Fault::new(format!("/{name}"), detail).given(self.text(name));
            faults.push(fault.limit(limit));
        };
        let feed = words("feed").and_then(|text| {
            let place = text
                .rsplit_once('.')
                .and_then(|(block, position)| Some((block.to_owned(), position.parse().ok()?)));
            if place.is_none() {
                wrong("feed", "name a block and a position", "as in helm-fuses.9");
            }
            place
        });
        let size = words("size").and_then(|text| {
            let size = text.parse::<WireSize>().ok();
            if size.is_none() {
                wrong(
                    "size",
                    "this is no size of a conductor",
                    "as in 14 AWG or 2.5 mm2",
                );
            }
            size
        });
        let fitted = words("fitted").and_then(|text| match text.as_str() {
            "main" => Some(Fitted::Main),
            "add-on" => Some(Fitted::AddOn),
            _ => {
                wrong("fitted", "choose one of the list", "main or add-on");
                None
            }
        });
        Decided {
            feed,
            back: words("back"),
            rating_a: number("rating_a", self.text("rating_a"), faults),
            size,
            fitted,
            color: words("color"),
        }
    }
}

/// What goes with figures that were taken; where they come from is what was chosen, or what is
/// known of them as long as no other draw was typed.
fn figures(
    part: Option<&LoadPartRecord>,
    like: Option<&Load>,
    as_taken: bool,
    chosen: Option<FigureFrom>,
) -> Figures {
    let known = match (part, like) {
        (Some(part), _) => Figures {
            from: part.figure_from.as_deref().and_then(FigureFrom::from_word),
            source: part.figure_source.clone(),
            part: Some(part.id.clone()),
            inrush_ms: part.inrush_ms,
            locked_rotor_a: part.locked_rotor_a,
            standby_ma: part.standby_ma,
            max_v: part.max_v,
            ignition_protected: part.ignition_protected,
        },
        (None, Some(like)) => Figures {
            from: like.figure_from,
            source: like.figure_source.clone(),
            part: like.part.clone(),
            ..Figures::default()
        },
        (None, None) => Figures::default(),
    };
    match (as_taken, chosen) {
        (true, None) => known,
        (true, Some(_)) if chosen == known.from => known,
        _ => Figures {
            from: chosen,
            source: None,
            ..known
        },
    }
}

/// A number that may be left out.
fn number(name: &str, text: &str, faults: &mut Vec<Fault>) -> Option<f64> {
    let text = text.trim();
    if text.is_empty() {
        return None;
    }
    let unit = match name {
        "min_v" => "V",
        "take_rate" => "%",
        _ => "A",
    };
    let read = measured(text, unit, UnitSystem::Si).ok();
    let read = read.filter(|number| number.is_finite());
    if read.is_none() {
        let detail = "this is no number: write digits, with the unit of the field or none";
        faults.push(Fault::new(format!("/{name}"), detail).given(text));
    }
    read
}

/// A figure and, after a comma, where it comes from: `3 A, measured`.
fn with_source(text: &str) -> (&str, Option<FigureFrom>) {
    let parted = text.rsplit_once(',').and_then(|(figure, word)| {
        let from = FigureFrom::from_word(word.trim())?;
        Some((figure.trim(), Some(from)))
    });
    parted.unwrap_or((text.trim(), None))
}

/// `3 A`, `36 W at 12 V`, `4 ohm`.
fn draws(text: &str) -> Option<(Draws, Option<f64>)> {
    let (figure, at) = match text.split_once(" at ") {
        Some((figure, at)) => (figure, Some(at)),
        None => (text, None),
    };
    let draws = quantity(figure, "A")
        .map(Draws::Current)
        .or_else(|| quantity(figure, "W").map(Draws::Power))
        .or_else(|| quantity(figure, "ohm").map(Draws::Resistance))?;
    let volts = match at {
        None => None,
        Some(at) => Some(quantity(at, "V")?),
    };
    Some((draws, volts))
}

/// A number with its unit behind it.
fn quantity(text: &str, unit: &str) -> Option<f64> {
    let has_unit = !text.trim_end().ends_with(|c: char| c.is_ascii_digit());
    let read = measured(text, unit, UnitSystem::Si).ok();
    read.filter(|number| has_unit && *number >= 0.0 && number.is_finite())
}

/// Faults of the core at the fields of the form.
pub(super) fn at_fields(faults: Vec<AskFault>) -> Vec<Fault> {
    let each = faults.into_iter().map(|fault| {
        let mut told = Fault::new(format!("/{}", fault.field), fault.detail);
        if !fault.given.is_empty() {
            told = told.given(fault.given);
        }
        match fault.limit.is_empty() {
            true => told,
            false => told.limit(fault.limit),
        }
    });
    each.collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_it_draws_is_read_with_its_unit() {
        assert_eq!(draws("3 A"), Some((Draws::Current(3.0), None)));
        assert_eq!(draws("36W at 12 V"), Some((Draws::Power(36.0), Some(12.0))));
        assert_eq!(draws("1.45 ohm"), Some((Draws::Resistance(1.45), None)));
        assert_eq!(draws("3,5 A"), Some((Draws::Current(3.5), None)));
        assert_eq!(draws("850 mA"), Some((Draws::Current(0.85), None)));
        assert_eq!(draws("4 \u{2126}"), Some((Draws::Resistance(4.0), None)));
        for bad in ["", "3", "A", "3 V", "3 A at 12", "1,500 W", "-3 A", "NaN A"] {
            assert_eq!(draws(bad), None, "{bad}");
        }
    }
}
