//! Numbers with units as people write them: `12 ft 6 in`, `3,8 m`, `850 mA`, `77 °F`.

use crate::units::{Stated, UnitSystem};

/// What is measured; units of one quantity convert into each other.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Quantity {
    Length,
    Area,
    Volts,
    Amperes,
    Watts,
    Ohms,
    AmpereHours,
    Time,
    Temperature,
    Angle,
    Share,
    Gauge,
}

/// A unit: how many of the smallest unit of its quantity it is.
#[derive(Debug)]
pub(super) struct Unit {
    /// As it is written, first the way of the file.
    spellings: &'static [&'static str],
    quantity: Quantity,
    /// Whole numbers, so that decimals convert into decimals.
    size: u32,
    /// For scales that start elsewhere (temperatures), in smallest units.
    zero: f64,
}

impl PartialEq for Unit {
    fn eq(&self, other: &Self) -> bool {
        std::ptr::eq(self, other)
    }
}

const fn scaled(spellings: &'static [&'static str], quantity: Quantity, size: u32) -> Unit {
    Unit {
        spellings,
        quantity,
        size,
        zero: 0.0,
    }
}

const CIRCULAR_MIL: Unit = scaled(&["cmil", "cmils"], Quantity::Area, 10_000);

static UNITS: &[Unit] = &[
    scaled(
        &["m", "metre", "metres", "meter", "meters"],
        Quantity::Length,
        10_000,
    ),
    scaled(
        &[
            "mm",
            "millimetre",
            "millimetres",
            "millimeter",
            "millimeters",
        ],
        Quantity::Length,
        10,
    ),
    scaled(
        &[
            "cm",
            "centimetre",
            "centimetres",
            "centimeter",
            "centimeters",
        ],
        Quantity::Length,
        100,
    ),
    scaled(
        &["in", "inch", "inches", "\"", "″", "''"],
        Quantity::Length,
        254,
    ),
    scaled(&["ft", "foot", "feet", "'", "′"], Quantity::Length, 3_048),
    // 1973.5252 circular mils in a square millimetre, to eight digits.
    scaled(&["mm2", "mm²", "mm^2", "sqmm"], Quantity::Area, 19_735_252),
    scaled(
        &["cm2", "cm²", "cm^2", "sqcm"],
        Quantity::Area,
        1_973_525_200,
    ),
    CIRCULAR_MIL,
    scaled(&["kcmil", "mcm"], Quantity::Area, 10_000_000),
    scaled(&["v", "volt", "volts", "vdc"], Quantity::Volts, 1_000),
    scaled(&["mv", "millivolt", "millivolts"], Quantity::Volts, 1),
    scaled(
        &["a", "amp", "amps", "ampere", "amperes"],
        Quantity::Amperes,
        1_000,
    ),
    scaled(
        &["ma", "milliamp", "milliamps", "milliampere", "milliamperes"],
        Quantity::Amperes,
        1,
    ),
    scaled(&["ka"], Quantity::Amperes, 1_000_000),
    scaled(&["w", "watt", "watts"], Quantity::Watts, 1),
    scaled(&["kw"], Quantity::Watts, 1_000),
    scaled(&["ohm", "ohms", "ω"], Quantity::Ohms, 1_000),
    scaled(
        &["mohm", "mohms", "mω", "milliohm", "milliohms"],
        Quantity::Ohms,
        1,
    ),
    scaled(&["kohm", "kohms", "kω"], Quantity::Ohms, 1_000_000),
    scaled(
        &["ah", "amphours", "amperehours"],
        Quantity::AmpereHours,
        1_000,
    ),
    scaled(&["mah"], Quantity::AmpereHours, 1),
    scaled(&["ms", "millisecond", "milliseconds"], Quantity::Time, 1),
    scaled(&["s", "sec", "second", "seconds"], Quantity::Time, 1_000),
    scaled(
        &["degc", "°c", "c", "celsius", "centigrade"],
        Quantity::Temperature,
        9,
    ),
    Unit {
        spellings: &["degf", "°f", "f", "fahrenheit"],
        quantity: Quantity::Temperature,
        size: 5,
        zero: -160.0,
    },
    scaled(&["degrees", "degree", "deg", "°"], Quantity::Angle, 1),
    scaled(&["%", "percent", "pct"], Quantity::Share, 1),
    scaled(&[""], Quantity::Share, 100),
];

/// Gauge numbers count down and convert into nothing; a heading may name them for sizes.
pub(super) static AWG: Unit = scaled(&["AWG"], Quantity::Gauge, 1);

/// The unit of this spelling. Mega is none: between `MΩ` and `mΩ` lie nine powers of ten, and no
/// wiring has the first.
pub(super) fn unit(text: &str) -> Option<&'static Unit> {
    let text = text.trim();
    if text.starts_with('M')
        && text
            .chars()
            .nth(1)
            .is_some_and(|c| c.is_lowercase() || c == 'Ω' || c == '\u{2126}')
        && text.to_lowercase().contains(['o', 'ω'])
    {
        return None;
    }
    let flat: String = text
        .to_lowercase()
        .chars()
        .filter(|c| !c.is_whitespace() && *c != '.')
        .collect();
    UNITS
        .iter()
        .find(|unit| unit.spellings.contains(&flat.as_str()))
}

/// The unit written behind a number of a field in `own`: `CM` of an area are circular mils.
fn written_unit(text: &str, own: &Unit) -> Option<&'static Unit> {
    match own.quantity {
        Quantity::Area if text.trim() == "CM" => unit("cmil"),
        _ => unit(text),
    }
}

/// The unit in which a person of the other system writes a field in `own`.
pub(super) fn customary(own: &str) -> Option<&'static Unit> {
    let own_unit = unit(own)?;
    written_unit(Stated::of(own)?.customary(), own_unit)
}

impl Unit {
    /// As the file writes it.
    pub fn word(&self) -> &'static str {
        self.spellings[0]
    }

    /// Whether values convert into `other`.
    pub fn converts_to(&self, other: &Self) -> bool {
        self.quantity == other.quantity
    }

    /// A value in this unit as one in `other`.
    pub fn convert(&self, value: f64, other: &Self) -> f64 {
        if self == other {
            return value;
        }
        if self.quantity == Quantity::Temperature {
            return (value * f64::from(self.size) + self.zero - other.zero) / f64::from(other.size);
        }
        let common = gcd(self.size, other.size);
        let (up, down) = (self.size / common, other.size / common);
        // Powers of ten move the decimal point, which a product of two roundings may not.
        for power in 0..10_u32 {
            let exponent = match 10_u32.pow(power) {
                ten if (up, down) == (ten, 1) => format!("{value}e{power}"),
                ten if (up, down) == (1, ten) => format!("{value}e-{power}"),
                _ => continue,
            };
            return exponent.parse().unwrap_or(value);
        }
        value * f64::from(up) / f64::from(down)
    }
}

fn gcd(a: u32, b: u32) -> u32 {
    if b == 0 { a } else { gcd(b, a % b) }
}

/// A number read from a text in the unit `own` of its field; a bare number is in `given`, the
/// unit of the heading. Fails with what is wrong.
pub(super) fn read(
    text: &str,
    own: Option<&'static Unit>,
    given: Option<&'static Unit>,
) -> Result<f64, String> {
    let parts = parts(text)?;
    let own = match (own, parts.as_slice()) {
        (None, [(number, unit)]) if unit.is_empty() => return Ok(*number),
        (None, _) => return Err("This field has no unit.".to_owned()),
        (Some(own), _) => own,
    };
    if let [(number, written)] = parts.as_slice()
        && written.is_empty()
    {
        return Ok(given.unwrap_or(own).convert(*number, own));
    }
    let mut sum = 0.0;
    let mut sign = 1.0;
    for (place, (number, written)) in parts.iter().enumerate() {
        let known = written_unit(written, own).filter(|_| !written.is_empty());
        let Some(known) = known.filter(|known| known.converts_to(own)) else {
            return Err(if written.is_empty() {
                "One of the numbers has no unit.".to_owned()
            } else {
                format!("\"{written}\" is no unit of this field.")
            });
        };
        if let [_] = parts.as_slice() {
            return Ok(known.convert(*number, own));
        }
        if own.quantity != Quantity::Length || (place > 0 && number.is_sign_negative()) {
            return Err("Several numbers stand in the cell.".to_owned());
        }
        if place == 0 && number.is_sign_negative() {
            sign = -1.0;
        }
        sum += number.abs() * f64::from(known.size);
    }
    Ok(sign * sum / f64::from(own.size))
}

/// A quantity as a person writes it, in the unit `own` (as `mm`, `°C`, `A`); a bare number is in
/// the unit that a person of these units writes.
///
/// # Errors
/// What is wrong with it.
pub fn measured(text: &str, own: &str, units: UnitSystem) -> Result<f64, String> {
    let given = match units {
        UnitSystem::Si => None,
        UnitSystem::Us => customary(own),
    };
    read(text, unit(own), given)
}

/// A text as a bare number. Fails with what is wrong.
pub(super) fn number(text: &str) -> Result<f64, String> {
    read(text, None, None)
}

/// Numbers with what stands behind each.
fn parts(text: &str) -> Result<Vec<(f64, String)>, String> {
    let chars: Vec<char> = text.trim().chars().collect();
    let mut at = 0;
    let mut parts: Vec<(f64, String)> = Vec::new();
    let skip = |at: &mut usize| {
        while chars.get(*at).is_some_and(|c| c.is_whitespace()) {
            *at += 1;
        }
    };
    while at < chars.len() {
        let start = at;
        let sign_ends = at + usize::from(matches!(chars[at], '-' | '+' | '−'));
        at = sign_ends;
        while chars
            .get(at)
            .is_some_and(|c| c.is_ascii_digit() || matches!(c, '.' | ','))
        {
            at += 1;
        }
        if at == sign_ends {
            return Err("This is no number.".to_owned());
        }
        let has_exponent = matches!(chars.get(at), Some('e' | 'E'))
            && match chars.get(at + 1) {
                Some('+' | '-') => chars.get(at + 2).is_some_and(char::is_ascii_digit),
                Some(c) => c.is_ascii_digit(),
                None => false,
            };
        if has_exponent {
            at += 2;
            while chars.get(at).is_some_and(char::is_ascii_digit) {
                at += 1;
            }
        }
        let mut number = decimal(&chars[start..at].iter().collect::<String>())?;
        skip(&mut at);
        if let Some((share, end)) = fraction(&chars, at) {
            number += share.copysign(number);
            at = end;
            skip(&mut at);
        } else if chars.get(at) == Some(&'/') {
            let (share, end) = fraction(&chars, start).ok_or("This is no number.")?;
            (number, at) = (share, end);
            skip(&mut at);
        }
        let from = at;
        while chars.get(at).is_some_and(|c| is_of_unit(*c)) && !is_next_mark(&chars, from, at) {
            at += 1;
        }
        if at > from
            && chars[at - 1] != '²'
            && chars.get(at) == Some(&'2')
            && !chars.get(at + 1).is_some_and(char::is_ascii_digit)
        {
            at += 1;
        }
        parts.push((number, chars[from..at].iter().collect()));
        skip(&mut at);
        // "12 ft, 6 in" and "12 ft and 6 in" are left to the writer: only a space is taken.
        if at == from
            && at < chars.len()
            && !chars[at].is_ascii_digit()
            && !matches!(chars[at], '-' | '+')
        {
            return Err("This is no number.".to_owned());
        }
    }
    if parts.is_empty() {
        return Err("This is no number.".to_owned());
    }
    Ok(parts)
}

/// Foot and inch marks stand for themselves: `12'6"` is two numbers.
fn is_next_mark(chars: &[char], from: usize, at: usize) -> bool {
    let is_mark = |c: char| "\"'′″".contains(c);
    at > from && is_mark(chars[at]) != is_mark(chars[at - 1])
}

fn is_of_unit(c: char) -> bool {
    c.is_alphabetic() || "°²%\"'′″^.\u{2126}".contains(c)
}

/// `1/2` at a place, with where it ends.
fn fraction(chars: &[char], from: usize) -> Option<(f64, usize)> {
    let digits = |from: usize| {
        let end = (from..chars.len())
            .find(|at| !chars[*at].is_ascii_digit())
            .unwrap_or(chars.len());
        let number: f64 = chars[from..end].iter().collect::<String>().parse().ok()?;
        Some((number, end))
    };
    let (upper, slash) = digits(from)?;
    if chars.get(slash) != Some(&'/') {
        return None;
    }
    let (lower, end) = digits(slash + 1)?;
    (lower > 0.0).then_some((upper / lower, end))
}

/// A decimal with a point or a comma.
fn decimal(text: &str) -> Result<f64, String> {
    let text = text.replace('−', "-");
    let commas = text.matches(',').count();
    let behind = text.rsplit(',').next().map_or(0, str::len);
    if commas > 1 || (commas == 1 && text.contains('.')) {
        return Err("Marks between thousands are not read.".to_owned());
    }
    let before = text
        .trim_start_matches(['-', '+'])
        .split(',')
        .next()
        .unwrap_or("");
    // "0,125" can only be a decimal; "1,250" may be either.
    if commas == 1 && behind == 3 && before != "0" {
        return Err("It is not clear whether the comma parts decimals or thousands.".to_owned());
    }
    let parsed = text.replace(',', ".").parse::<f64>();
    parsed
        .ok()
        .filter(|number| number.is_finite())
        .ok_or_else(|| "This is no number.".to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_people_write_becomes_the_unit_of_the_field() {
        for (text, own, given, number) in [
            ("12 ft 6 in", "m", "", 3.81),
            ("12' 6\"", "m", "", 3.81),
            ("12'6\"", "m", "", 3.81),
            ("12ft 6 1/2in", "mm", "", 3822.7),
            ("1/2 in", "mm", "", 12.7),
            ("3,8 m", "m", "", 3.8),
            ("3.8", "m", "", 3.8),
            ("3800", "m", "mm", 3.8),
            ("12.5", "m", "ft", 3.81),
            ("-1 ft 6 in", "mm", "", -457.2),
            ("0,125", "m", "", 0.125),
            ("850 mA", "a", "", 0.85),
            ("0.2 A", "ma", "", 200.0),
            ("2.5 mm²", "mm2", "", 2.5),
            ("19735.252 CM", "mm2", "", 10.0),
            ("19.735252 kcmil", "mm²", "", 10.0),
            ("19735.252", "mm2", "cmil", 10.0),
            ("2.5 mm2", "mm2", "", 2.5),
            ("1.2 kW", "w", "", 1200.0),
            ("3 mΩ", "ohm", "", 0.003),
            ("77 °F", "degc", "", 25.0),
            ("77", "degc", "degf", 25.0),
            ("40 °C", "degc", "", 40.0),
            ("25 %", "", "", 0.25),
            ("0.25", "", "", 0.25),
            ("3", "%", "", 3.0),
            ("0.4 s", "ms", "", 400.0),
            ("1e-3", "ohm", "", 0.001),
            ("1.5e3", "w", "", 1500.0),
        ] {
            let given = unit(given).filter(|_| !given.is_empty());
            assert_eq!(read(text, unit(own), given), Ok(number), "{text}");
        }
    }

    #[test]
    fn what_is_not_clear_is_told() {
        for (text, own, word) in [
            ("1,250", "m", "not clear"),
            ("1,250.5", "m", "thousands"),
            ("12 furlong", "m", "no unit of this field"),
            ("12 V", "m", "no unit of this field"),
            ("12 V 3 V", "v", "Several"),
            ("about 3", "m", "no number"),
            ("", "m", "no number"),
            ("3 m 2", "m", "no unit"),
            ("3 MΩ", "ohm", "no unit of this field"),
            ("1..2", "m", "no number"),
            ("inf", "m", "no number"),
            ("3 m; 4 m", "m", "no number"),
        ] {
            let fault = read(text, unit(own), None).unwrap_err();
            assert!(fault.contains(word), "{text}: {fault}");
        }
        assert!(number("3 A").is_err() && number("7") == Ok(7.0));
    }

    #[test]
    fn a_decimal_stays_a_decimal() {
        for thousandth in 1..3_000_u32 {
            let metres = f64::from(thousandth) / 1_000.0;
            let text = format!("{thousandth} mm");
            assert_eq!(read(&text, unit("m"), None), Ok(metres));
            assert_eq!(
                read(&format!("{metres} m"), unit("mm"), None),
                Ok(f64::from(thousandth))
            );
        }
    }
}
