//! Quantities in the text of a page, in the reader's units.

use std::borrow::Cow;
use std::sync::LazyLock;

use harness_core::tables::conductors;
use harness_core::units::{Stated, UnitSystem, WireSize};
use harness_core::working::significant;
use regex::{Captures, Regex};

use super::{Setting, Sizes};

const PATTERN: &str = "a pattern of the service";

/// Numbers with the unit behind the last of them, as every page and every sentence of the core
/// writes them: `3.81 m`, `1 to 2.5 mm²`, `90 or 105 °C`; and sizes of conductors.
static QUANTITIES: LazyLock<Regex> = LazyLock::new(|| {
    Regex::new(
        r"(?x)
        (?<gauge> \d{1,2}(?:/0)? ) \x20 AWG
        | (?<metric> \d+(?:\.\d+)? ) \x20 mm2
        | (?<first> [+\-−]?\d+(?:\.\d+)? ) (?<between> \x20(?:to|or|≤|<|>|≥)\x20 | – )
          (?<second> [+\-−]?\d+(?:\.\d+)? ) [\x20\u{a0}] (?<units> mm²|mm|m|°C|kg|g )
        | (?<number> [+\-−]?\d+(?:\.\d+)? ) [\x20\u{a0}] (?<unit> mm²|mm|m|°C|kg|g )",
    )
    .expect(PATTERN)
});

/// A unit at the end of a label: `Cut length, mm`.
static AT_END: LazyLock<Regex> =
    LazyLock::new(|| Regex::new(r", (mm²|mm|m|°C|kg|g)( \(optional\))?(\s*)$").expect(PATTERN));

/// A text with its quantities in the reader's units; `is_label` also turns a unit at its end.
pub(super) fn told(text: &str, setting: Setting, is_label: bool) -> Cow<'_, str> {
    let text = match setting.units {
        UnitSystem::Us if is_label => AT_END.replace(text, |found: &Captures<'_>| {
            let si = &found[1];
            let unit = Stated::of(si).map_or(si, |stated| stated.customary());
            let rest = found.get(2).map_or("", |rest| rest.as_str());
            format!(", {unit}{rest}{}", &found[3])
        }),
        _ => Cow::Borrowed(text),
    };
    let whole = text.clone();
    let replaced = QUANTITIES.replace_all(&text, |found: &Captures<'_>| {
        let all = found.get(0).map_or(0..0, |all| all.range());
        let (before, behind) = (&whole[..all.start], &whole[all.end..]);
        match is_apart(before, behind) {
            true => one(found, behind, setting),
            false => found[0].to_owned(),
        }
    });
    match replaced {
        Cow::Borrowed(_) => text,
        Cow::Owned(replaced) => Cow::Owned(replaced),
    }
}

/// Whether a text is one quantity, and nothing beside.
pub(super) fn is_whole(text: &str) -> bool {
    let text = text.trim();
    let found = QUANTITIES.find(text);
    found.is_some_and(|found| found.range() == (0..text.len()))
}

/// Whether what stands around is no part of a longer number, word or compound unit.
fn is_apart(before: &str, behind: &str) -> bool {
    let last = before.chars().next_back();
    let next = behind.chars().next();
    !last.is_some_and(|c| c.is_alphanumeric() || ".,/_-−".contains(c))
        && !next.is_some_and(|c| c.is_alphanumeric() || "²³/·^_".contains(c))
}

fn one(found: &Captures<'_>, behind: &str, setting: Setting) -> String {
    let text = |name: &str| found.name(name).map(|part| part.as_str());
    let all = found[0].to_owned();
    if text("gauge").is_some() || text("metric").is_some() {
        return beside(&all, behind, setting)
            .map_or(all.clone(), |other| format!("{all} ({other})"));
    }
    if setting.units == UnitSystem::Si {
        return all;
    }
    let Some(stated) = text("units").or(text("unit")).and_then(Stated::of) else {
        return all;
    };
    let written = |number: &str| {
        let plain = number.replace('−', "-");
        let value: Option<f64> = plain.parse().ok();
        let plus = if number.starts_with('+') { "+" } else { "" };
        value.map(|value| format!("{plus}{}", stated.written(value, decimals(number))))
    };
    let told = match (
        text("first"),
        text("between"),
        text("second"),
        text("number"),
    ) {
        (Some(first), Some(between), Some(second), _) => written(first)
            .zip(written(second))
            .map(|(first, second)| format!("{first}{between}{second}")),
        (.., Some(number)) => written(number),
        _ => None,
    };
    told.unwrap_or(all)
}

fn decimals(number: &str) -> usize {
    number.split_once('.').map_or(0, |(_, behind)| behind.len())
}

/// The size of the other series beside a stated one: mm² of a gauge, circular mils of mm².
fn beside(size: &str, behind: &str, setting: Setting) -> Option<String> {
    let size: WireSize = size.parse().ok()?;
    let area = conductors::row(size)?.area.value;
    match (size, setting.units, setting.sizes) {
        // Its area stands there already.
        (WireSize::Awg(_), ..) if behind.starts_with(" (") || behind.ends_with("mm²)") => None,
        (WireSize::Awg(_), UnitSystem::Si, Sizes::Both) => {
            Some(format!("{} mm²", significant(area.value(), 3)))
        }
        (WireSize::Metric(_), UnitSystem::Us, _) | (WireSize::Metric(_), _, Sizes::Both) => {
            Some(Stated::SquareMillimetres.written(area.value(), 2))
        }
        _ => None,
    }
}

/// The bare number for an element that states its exact value, as `3.81 m`; `shown` is what
/// stands there.
/// Of a unit alone the customary one.
pub(super) fn bare(quantity: &str, shown: &str) -> Option<String> {
    let Some((number, unit)) = quantity.split_once(' ') else {
        return Stated::of(quantity).map(|stated| stated.customary().to_owned());
    };
    let stated = Stated::of(unit)?;
    let value: f64 = number.parse().ok()?;
    Some(stated.number(value, decimals(shown.trim())))
}

#[cfg(test)]
mod tests {
    use super::*;

    const US: Setting = Setting {
        units: UnitSystem::Us,
        sizes: Sizes::AsOrdered,
        words: super::super::Words::Us,
    };

    #[test]
    fn quantities_in_sentences_are_told_in_us_units() {
        for (si, us) in [
            ("a route of 3.81 m.", "a route of 12 ft 6 in."),
            ("-25 to 25.4 mm", "-0.98 in to 1 in"),
            ("takes 1 to 2.5 mm²", "takes 1974 CM to 4934 CM"),
            ("90 or 105 °C", "194 °F or 221 °F"),
            ("0.5 ohm at 30 °C", "0.5 ohm at 86 °F"),
            ("+28 g on every boat", "+0.99 oz on every boat"),
            ("12 AWG (3.31 mm²)", "12 AWG (6532 CM)"),
            ("2.5 mm2 at 3 A", "2.5 mm2 (4934 CM) at 3 A"),
        ] {
            assert_eq!(told(si, US, false), us);
        }
        assert_eq!(told("Cut length, mm", US, true), "Cut length, in");
        assert_eq!(told("Bore, mm (optional)", US, true), "Bore, in (optional)");
    }

    #[test]
    fn what_is_no_quantity_stays() {
        for text in [
            "17.24 ohm mm²/km",
            "3 A/mm²",
            "5 months",
            "A-5 mm",
            "3 mg",
            "12 AWG",
            "1 mm2x",
            "12 V, 3 A, 36 W",
            "Lengths in mm",
        ] {
            assert_eq!(told(text, US, false), text);
        }
        for text in ["3.81 m", "2.5 mm2", "Cut length, mm"] {
            assert_eq!(told(text, Setting::default(), true), text);
        }
    }

    /// 12 AWG is 3.31 mm² (ASTM B258).
    #[test]
    fn both_shows_the_other_series_once() {
        let both = Setting {
            sizes: Sizes::Both,
            ..Setting::default()
        };
        assert_eq!(told("12 AWG", both, false), "12 AWG (3.31 mm²)");
        let stated = "12 AWG (3.31 mm²) is thin";
        assert_eq!(told(stated, both, false), stated);
        assert_eq!(told("2.5 mm2", both, false), "2.5 mm2 (4934 CM)");
    }

    #[test]
    fn a_bare_number_keeps_the_fineness_shown() {
        assert_eq!(bare("3810.1234 mm", "3810").as_deref(), Some("150"));
        assert_eq!(bare("3.81 m", "3.81").as_deref(), Some("12.5"));
        assert_eq!(bare("m", "m").as_deref(), Some("ft"));
        assert_eq!(bare("3 V", "3"), None);
        assert_eq!(bare("x", ""), None);
    }
}
