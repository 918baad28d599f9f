//! Wire ends: pull forces, rings and studs, contacts, strip lengths, insulation colors.

use std::sync::OnceLock;

use super::conductors;
use super::rows::read;
use crate::units::{Amperes, Millimetres, WireSize};
use crate::working::Cited;

/// A pull test for crimped ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum PullStandard {
    /// UL 486A, wire connectors.
    Ul486a,
    /// UL 486E, terminals of equipment: about a quarter of 486A.
    Ul486e,
    /// The tensile table of the voluntary US marine standard.
    AbycE11,
    /// IEC 60352-2, crimped connections.
    Iec60352,
}

impl PullStandard {
    fn word(self) -> &'static str {
        match self {
            Self::Ul486a => "ul-486a",
            Self::Ul486e => "ul-486e",
            Self::AbycE11 => "abyc-e11",
            Self::Iec60352 => "iec-60352-2",
        }
    }
}

struct PullRow {
    standard: String,
    size: WireSize,
    newtons: Cited<f64>,
}

/// Least pull a crimp on this size must stand for one minute, newton.
pub fn pull_force_n(standard: PullStandard, size: WireSize) -> Option<Cited<f64>> {
    static TABLE: OnceLock<Vec<PullRow>> = OnceLock::new();
    TABLE
        .get_or_init(|| {
            read("pull_force.csv", include_str!("../../data/pull_force.csv"))
                .iter()
                .map(|row| PullRow {
                    standard: row.text("standard").to_owned(),
                    size: row.value("size"),
                    newtons: row.cited_number("force_n"),
                })
                .collect()
        })
        .iter()
        .find(|row| row.standard == standard.word() && row.size == size)
        .map(|row| row.newtons.clone())
}

/// One stud size and the ring that fits it.
#[derive(Clone, Debug, PartialEq)]
pub struct RingStud {
    /// Metric name, `M6`.
    pub stud: String,
    /// Inch name of the same ring, `1/4 in`.
    pub inch_name: String,
    /// Stud diameter.
    pub diameter: Millimetres,
    /// Hole of the ring.
    pub hole: Cited<Millimetres>,
}

/// Stud sizes with their rings, smallest first.
pub fn ring_studs() -> &'static [RingStud] {
    static TABLE: OnceLock<Vec<RingStud>> = OnceLock::new();
    TABLE.get_or_init(|| {
        read("ring_studs.csv", include_str!("../../data/ring_studs.csv"))
            .iter()
            .map(|row| RingStud {
                stud: row.text("stud").to_owned(),
                inch_name: row.text("inch_name").to_owned(),
                diameter: Millimetres::new(row.value("stud_mm")),
                hole: row.cited_number("hole_mm").map(Millimetres::new),
            })
            .collect()
    })
}

/// A contact size: what it carries and which conductors it takes.
#[derive(Clone, Debug, PartialEq)]
pub struct Contact {
    /// Name of the size.
    pub contact: String,
    /// Current it carries.
    pub amperes: Cited<Amperes>,
    /// Thinnest conductor.
    pub from: WireSize,
    /// Thickest conductor.
    pub to: WireSize,
}

impl Contact {
    /// Whether this contact takes a conductor; sizes of the other series compare by area. None
    /// when the conductor is outside the tables.
    pub fn takes(&self, size: WireSize) -> Option<bool> {
        if size.series() == self.from.series() {
            return Some(self.from <= size && size <= self.to);
        }
        let area = |size| conductors::row(size).map(|row| row.area.value);
        let wire = area(size)?;
        let above = area(self.from).is_none_or(|from| from <= wire);
        Some(above && wire <= area(self.to)?)
    }
}

/// Contact sizes with their ratings.
pub fn contacts() -> &'static [Contact] {
    static TABLE: OnceLock<Vec<Contact>> = OnceLock::new();
    TABLE.get_or_init(|| {
        read("contacts.csv", include_str!("../../data/contacts.csv"))
            .iter()
            .map(|row| Contact {
                contact: row.text("contact").to_owned(),
                amperes: row.cited_number("amps_a").map(Amperes::new),
                from: row.value("from_size"),
                to: row.value("to_size"),
            })
            .collect()
    })
}

/// How much insulation to strip for a kind of terminal.
#[derive(Clone, Debug, PartialEq)]
pub struct StripLength {
    /// Kind of terminal.
    pub terminal: String,
    /// Length added to the depth of the barrel, if the barrel decides.
    pub barrel_plus: Option<Millimetres>,
    /// Length if it does not depend on the barrel.
    pub fixed: Option<Millimetres>,
    /// Where the figure comes from.
    pub source: Cited<()>,
}

/// Strip lengths by kind of terminal.
pub fn strip_lengths() -> &'static [StripLength] {
    static TABLE: OnceLock<Vec<StripLength>> = OnceLock::new();
    TABLE.get_or_init(|| {
        read(
            "strip_lengths.csv",
            include_str!("../../data/strip_lengths.csv"),
        )
        .iter()
        .map(|row| StripLength {
            terminal: row.text("terminal").to_owned(),
            barrel_plus: row.optional("barrel_plus_mm").map(Millimetres::new),
            fixed: row.optional("fixed_mm").map(Millimetres::new),
            source: row.cite(()),
        })
        .collect()
    })
}

/// A range of gauges for which insulated terminals have one color.
#[derive(Clone, Debug, PartialEq)]
pub struct Sleeve {
    /// The color.
    pub color: Cited<String>,
    /// Thinnest conductor.
    pub from: WireSize,
    /// Thickest conductor.
    pub to: WireSize,
}

/// Colors of insulated terminals, thin to thick.
pub fn sleeves() -> &'static [Sleeve] {
    static TABLE: OnceLock<Vec<Sleeve>> = OnceLock::new();
    TABLE.get_or_init(|| {
        read(
            "terminal_colors.csv",
            include_str!("../../data/terminal_colors.csv"),
        )
        .iter()
        .map(|row| Sleeve {
            color: row.cite(row.text("color").to_owned()),
            from: row.value("from_size"),
            to: row.value("to_size"),
        })
        .collect()
    })
}

/// Insulation color of the terminal for a gauge, by trade convention; a gauge on the border of
/// two colors gives the thinner one.
pub fn terminal_color(size: WireSize) -> Option<Cited<String>> {
    sleeves()
        .iter()
        .find(|row| row.from.series() == size.series() && row.from <= size && size <= row.to)
        .map(|row| row.color.clone())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn size(text: &str) -> WireSize {
        text.parse().unwrap()
    }

    #[test]
    fn pull_forces_in_newtons() {
        // UL 486A: 18 AWG 20 lbf, 6 AWG 100 lbf.
        let pull = |text| pull_force_n(PullStandard::Ul486a, size(text)).map(|cited| cited.value);
        assert_eq!(pull("18 AWG"), Some(89.0));
        assert_eq!(pull("6 AWG"), Some(444.8));
        assert_eq!(pull("1 AWG"), None);
        let iec = pull_force_n(PullStandard::Iec60352, size("2.5 mm2")).unwrap();
        assert_eq!(iec.value, 230.0);
        for gauge in ["18 AWG", "12 AWG", "6 AWG"] {
            let equipment = pull_force_n(PullStandard::Ul486e, size(gauge))
                .unwrap()
                .value;
            let marine = pull_force_n(PullStandard::AbycE11, size(gauge))
                .unwrap()
                .value;
            assert!(equipment < marine && marine < pull(gauge).unwrap());
        }
    }

    #[test]
    fn rings_are_a_little_wider_than_their_stud() {
        assert_eq!(ring_studs().len(), 7);
        for ring in ring_studs() {
            let play = ring.hole.value - ring.diameter;
            assert!((0.2..=1.0).contains(&play.value()), "{}", ring.stud);
        }
    }

    #[test]
    fn contacts_take_their_range_in_both_series() {
        let contact = |name: &str| contacts().iter().find(|c| c.contact == name).unwrap();
        assert_eq!(contact("contact-16").takes(size("16 AWG")), Some(true));
        assert_eq!(contact("contact-16").takes(size("14 AWG")), Some(false));
        assert_eq!(contact("contact-16").takes(size("1 mm2")), Some(true));
        assert_eq!(contact("blade-6.3").takes(size("12 AWG")), Some(true));
        assert_eq!(contact("blade-6.3").takes(size("8 AWG")), Some(false));
        assert_eq!(contact("blade-6.3").takes(size("30 AWG")), None);
    }

    #[test]
    fn strip_lengths_state_one_of_two_ways() {
        for strip in strip_lengths() {
            assert!(strip.fixed.is_some() != strip.barrel_plus.is_some());
        }
    }

    #[test]
    fn terminal_colors_by_gauge() {
        let color = |text| terminal_color(size(text)).map(|cited| cited.value);
        assert_eq!(color("18 AWG").as_deref(), Some("red"));
        assert_eq!(color("14 AWG").as_deref(), Some("blue"));
        assert_eq!(color("10 AWG").as_deref(), Some("yellow"));
        assert_eq!(color("8 AWG"), None);
    }
}
