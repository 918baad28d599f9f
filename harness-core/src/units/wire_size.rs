//! A conductor size as the trade writes it: gauge numbers that count down, areas that count up.

use std::fmt;
use std::str::FromStr;

/// Which series of sizes a yard stocks.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum SizeSeries {
    /// American wire gauge, 18 AWG to 4/0 AWG.
    Awg,
    /// Metric cross-sections, 0.75 mm² to 120 mm².
    Metric,
}

/// One conductor size. Ordering is by the written size within a series, thin to thick;
/// compare sizes of both series by the area in the conductor table.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum WireSize {
    /// The gauge number negated, so that the order is thin to thick: 18 AWG is -18, 1/0 AWG
    /// is 0, 4/0 AWG is 3. Build it with [`WireSize::awg`].
    Awg(i8),
    /// Cross-section in hundredths of a square millimetre: 2.5 mm² is 250.
    Metric(u32),
}

impl WireSize {
    /// A gauge: 18 ... 1 as written, 0 for 1/0, -1 for 2/0, -3 for 4/0.
    pub const fn awg(gauge: i8) -> Self {
        Self::Awg(-gauge)
    }

    /// A metric size from its hundredths of a square millimetre.
    pub const fn metric_hundredths(hundredths_mm2: u32) -> Self {
        Self::Metric(hundredths_mm2)
    }

    /// The series this size belongs to.
    pub const fn series(self) -> SizeSeries {
        match self {
            Self::Awg(_) => SizeSeries::Awg,
            Self::Metric(_) => SizeSeries::Metric,
        }
    }
}

impl fmt::Display for WireSize {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match *self {
            Self::Awg(steps) if steps >= 0 => write!(f, "{}/0 AWG", i32::from(steps) + 1),
            Self::Awg(steps) => write!(f, "{} AWG", -i32::from(steps)),
            Self::Metric(hundredths) => {
                let (whole, rest) = (hundredths / 100, hundredths % 100);
                match rest {
                    0 => write!(f, "{whole} mm2"),
                    r if r % 10 == 0 => write!(f, "{whole}.{} mm2", r / 10),
                    r => write!(f, "{whole}.{r:02} mm2"),
                }
            }
        }
    }
}

/// Why a text is no wire size.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ParseWireSizeError {
    given: String,
}

impl fmt::Display for ParseWireSizeError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "\"{}\" is no wire size; write a gauge such as \"12 AWG\" or \"1/0 AWG\", \
             or an area such as \"2.5 mm2\"",
            self.given
        )
    }
}

impl std::error::Error for ParseWireSizeError {}

impl FromStr for WireSize {
    type Err = ParseWireSizeError;

    /// Accepts any spacing and letter case, `mm2` or `mm²`, comma or point, `00` or `2/0`.
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let refuse = || ParseWireSizeError {
            given: text.to_owned(),
        };
        let flat: String = text
            .chars()
            .filter(|c| !c.is_whitespace())
            .flat_map(char::to_lowercase)
            .map(|c| if c == ',' { '.' } else { c })
            .collect();
        if let Some(gauge) = flat
            .strip_suffix("awg")
            .or_else(|| flat.strip_prefix("awg"))
        {
            return parse_gauge(gauge).ok_or_else(refuse);
        }
        let area = flat
            .strip_suffix("mm2")
            .or_else(|| flat.strip_suffix("mm²"))
            .or_else(|| flat.strip_suffix("mm^2"))
            .ok_or_else(refuse)?;
        parse_hundredths(area).map(Self::Metric).ok_or_else(refuse)
    }
}

fn parse_gauge(text: &str) -> Option<WireSize> {
    if let Some(aughts) = text.strip_suffix("/0") {
        let count: i8 = aughts.parse().ok()?;
        return (1..=4).contains(&count).then(|| WireSize::awg(1 - count));
    }
    if text.len() >= 2 && text.len() <= 4 && text.bytes().all(|b| b == b'0') {
        return Some(WireSize::awg(1 - i8::try_from(text.len()).ok()?));
    }
    let gauge: i8 = text.parse().ok()?;
    (0..=40).contains(&gauge).then(|| WireSize::awg(gauge))
}

fn parse_hundredths(text: &str) -> Option<u32> {
    let (whole, fraction) = text.split_once('.').unwrap_or((text, ""));
    if fraction.len() > 2 || whole.is_empty() || !fraction.bytes().all(|b| b.is_ascii_digit()) {
        return None;
    }
    let whole: u32 = whole.parse().ok()?;
    let fraction: u32 = format!("{fraction:0<2}").parse().ok()?;
    let hundredths = whole.checked_mul(100)?.checked_add(fraction)?;
    (hundredths > 0).then_some(hundredths)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes_print_as_the_trade_writes_them() {
        for text in [
            "18 AWG", "1 AWG", "1/0 AWG", "4/0 AWG", "0.75 mm2", "2.5 mm2", "120 mm2",
        ] {
            assert_eq!(text.parse::<WireSize>().unwrap().to_string(), text);
        }
    }

    #[test]
    fn spelling_is_forgiven_where_it_is_unambiguous() {
        for (given, meant) in [
            ("12awg", "12 AWG"),
            ("00 AWG", "2/0 AWG"),
            ("2,5 mm²", "2.5 mm2"),
            ("AWG 4", "4 AWG"),
        ] {
            assert_eq!(given.parse::<WireSize>().unwrap().to_string(), meant);
        }
        for bad in [
            "",
            "12",
            "AWG",
            "5/0 AWG",
            "mm2",
            "1.234 mm2",
            "-3 AWG",
            "0 mm2",
        ] {
            assert!(bad.parse::<WireSize>().is_err(), "{bad}");
        }
    }

    #[test]
    fn gauges_sort_thin_to_thick() {
        let sizes =
            ["18 AWG", "2 AWG", "1/0 AWG", "4/0 AWG"].map(|t| t.parse::<WireSize>().unwrap());
        assert!(sizes.is_sorted());
    }
}
