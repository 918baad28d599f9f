//! The parts that come with the service: figures of a kind, published or known in the trade, to
//! start from until those of the part at hand are known.

use std::sync::OnceLock;

use crate::choices::{DeviceKind, Family, FigureFrom, TerminalKind};
use crate::file_format::PartsRecord;
use crate::file_format::records::{
    ConductorPartRecord, DevicePartRecord, LoadPartRecord, TerminalPartRecord,
};
use crate::tables::{conductors, protection, terminals, typical_loads};
use crate::units::WireSize;
use crate::working::{Cited, Source, Status, significant};

/// The shipped parts list. A part of which a figure is known from memory only, or of which there is
/// little trust in what was read, is a guess.
pub fn shipped() -> &'static PartsRecord {
    static LIST: OnceLock<PartsRecord> = OnceLock::new();
    LIST.get_or_init(|| PartsRecord {
        format_version: 1,
        loads: typical_loads::typical_loads().iter().map(load).collect(),
        connector_types: Vec::new(),
        terminal_parts: contacts().chain(rings()).collect(),
        devices: Family::ALL
            .iter()
            .flat_map(|family| devices(*family))
            .collect(),
        conductors: conductors::rows().iter().map(conductor).collect(),
    })
}

/// Where the figures of a part come from, of all of them together.
#[derive(Default)]
struct Sources {
    lines: Vec<String>,
    is_guess: bool,
}

impl Sources {
    fn read(&mut self, what: &str, source: &Source) {
        self.is_guess |= source.status == Status::FromMemory;
        let place = match source.place.is_empty() {
            true => String::new(),
            false => format!(", {}", source.place),
        };
        let line = format!("{}{place} ({})", source.document, source.status.word());
        self.lines.push(match what {
            "" => line,
            what => format!("{what}: {line}"),
        });
    }

    fn value<T>(&mut self, what: &str, cited: Cited<T>) -> T {
        self.read(what, &cited.source);
        cited.value
    }

    fn from(&self) -> Option<String> {
        let from = match self.is_guess {
            true => FigureFrom::Guess,
            false => FigureFrom::Published,
        };
        Some(from.word().to_owned())
    }

    fn line(self) -> Option<String> {
        Some(self.lines.join("; "))
    }
}

fn load(typical: &typical_loads::TypicalLoad) -> LoadPartRecord {
    let mut sources = Sources::default();
    sources.read("", &typical.source);
    sources.is_guess |= typical.low_trust;
    let trust = typical.low_trust.then_some("low trust");
    let remark = (!typical.remark.is_empty()).then_some(typical.remark.as_str());
    let more = [trust, remark].into_iter().flatten();
    let more: String = more.map(|more| format!("; {more}")).collect();
    LoadPartRecord {
        id: typical.id.clone(),
        name: Some(format!("{} ({})", typical.name, typical.duty)),
        current_a: typical.running_a,
        power_w: None,
        resistance_ohm: None,
        stated_at_v: typical.stated_at_v,
        inrush_a: typical.inrush_a,
        inrush_ms: None,
        locked_rotor_a: typical.locked_rotor_a,
        standby_ma: None,
        min_v: None,
        max_v: None,
        drop_class: None,
        ignition_protected: None,
        device_a: typical.device_a,
        figure_from: sources.from(),
        figure_source: sources.line().map(|line| line + &more),
    }
}

fn area(size: WireSize) -> Option<f64> {
    let area = conductors::row(size)?.area.value.value();
    Some((area * 100.0).round() / 100.0)
}

fn terminal(id: String, name: String, kind: TerminalKind, sources: Sources) -> TerminalPartRecord {
    TerminalPartRecord {
        id,
        name: Some(name),
        kind: Some(kind.word().to_owned()),
        min_mm2: None,
        max_mm2: None,
        stud_mm: None,
        strip_mm: None,
        entry_mm: None,
        figure_from: sources.from(),
        figure_source: sources.line(),
    }
}

fn contacts() -> impl Iterator<Item = TerminalPartRecord> {
    terminals::contacts().iter().map(|contact| {
        let mut sources = Sources::default();
        let amperes = sources.value("rating", contact.amperes.clone());
        let name = format!(
            "{}, {} A, {} to {}",
            contact.contact.replace('-', " "),
            significant(amperes.value(), 4),
            contact.from,
            contact.to
        );
        let id = contact.contact.replace('.', "-");
        TerminalPartRecord {
            min_mm2: area(contact.from),
            max_mm2: area(contact.to),
            ..terminal(id, name, TerminalKind::Contact, sources)
        }
    })
}

/// A ring of each stud for each range of wire, which the color of its sleeve tells.
fn rings() -> impl Iterator<Item = TerminalPartRecord> {
    terminals::ring_studs().iter().flat_map(|stud| {
        terminals::sleeves().iter().map(move |sleeve| {
            let mut sources = Sources::default();
            sources.read("hole", &stud.hole.source);
            let color = sources.value("color", sleeve.color.clone());
            let name = format!(
                "ring terminal {} ({}), {color}, {} to {}",
                stud.stud, stud.inch_name, sleeve.from, sleeve.to
            );
            let id = format!("ring-{}-{color}", stud.stud.replace('.', "-"));
            TerminalPartRecord {
                min_mm2: area(sleeve.from),
                max_mm2: area(sleeve.to),
                stud_mm: Some(stud.diameter.value()),
                ..terminal(id, name, TerminalKind::Ring, sources)
            }
        })
    })
}

fn devices(family: Family) -> impl Iterator<Item = DevicePartRecord> {
    protection::standard_ratings(family).map(move |standard| {
        let mut sources = Sources::default();
        let rating = sources.value("rating", standard.rating.clone());
        let interrupting = protection::interrupting_rating(family)
            .map(|cited| sources.value("interrupting", cited).value());
        let volts =
            protection::rated_voltage(family).map(|cited| sources.value("volts", cited).value());
        let ohms = protection::cold_resistance(family, rating)
            .map(|cited| sources.value("resistance", cited).value());
        let amperes = significant(rating.value(), 4);
        let color = standard.color.as_deref();
        let color = color.map_or_else(String::new, |color| format!(", {color}"));
        let kind = match family {
            Family::Breaker => DeviceKind::Breaker,
            _ => DeviceKind::Fuse,
        };
        DevicePartRecord {
            id: format!("{family}-{}", amperes.replace('.', "-")),
            kind: kind.word().to_owned(),
            name: Some(format!("{} {amperes} A{color}", protection::title(family))),
            family: Some(family.word().to_owned()),
            rating_a: Some(rating.value()),
            interrupting_a: interrupting,
            rated_v: volts,
            resistance_mohm: ohms.map(|ohms| (ohms * 1e6).round() / 1e3),
            ignition_protected: None,
            figure_from: sources.from(),
            figure_source: sources.line(),
        }
    })
}

fn conductor(row: &conductors::ConductorRow) -> ConductorPartRecord {
    let mut sources = Sources::default();
    let ohms = sources.value("resistance", row.resistance_20c_ohm_per_km.clone());
    let diameter = sources.value("diameter", row.diameter.clone());
    let mass = sources.value("mass", row.mass_kg_per_km.clone());
    let size = row.size.to_string();
    ConductorPartRecord {
        id: size.replace([' ', '/', '.'], "-"),
        name: Some(format!("single conductor, {size}, typical")),
        size,
        insulation_degc: None,
        strands: None,
        resistance_ohm_per_km: Some(ohms),
        outside_diameter_mm: Some(diameter.value()),
        mass_kg_per_km: Some(mass),
        price_per_m: None,
        figure_from: sources.from(),
        figure_source: sources.line(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::file_format::{read_parts, write_parts};

    #[test]
    fn the_shipped_list_is_one_that_the_reader_takes() {
        let list = shipped();
        assert_eq!(&read_parts(&write_parts(list)).unwrap(), list);
        let counts = [
            list.loads.len(),
            list.terminal_parts.len(),
            list.devices.len(),
            list.conductors.len(),
        ];
        assert!(counts.iter().all(|count| *count > 20), "{counts:?}");
    }

    #[test]
    fn every_figure_names_its_source_and_what_is_from_memory_or_of_low_trust_is_a_guess() {
        let list = shipped();
        let loads = list
            .loads
            .iter()
            .map(|p| (&p.figure_from, &p.figure_source));
        let devices = list.devices.iter();
        let devices = devices.map(|p| (&p.figure_from, &p.figure_source));
        let terminals = list.terminal_parts.iter();
        let terminals = terminals.map(|p| (&p.figure_from, &p.figure_source));
        let conductors = list.conductors.iter();
        let conductors = conductors.map(|p| (&p.figure_from, &p.figure_source));
        let mut guesses = 0;
        for (from, source) in loads.chain(devices).chain(terminals).chain(conductors) {
            let source = source.as_deref().unwrap();
            let is_guess = from.as_deref() == Some("guess");
            let is_weak = source.contains("from memory") || source.contains("low trust");
            assert_eq!(is_guess, is_weak, "{source}");
            assert!(is_guess || from.as_deref() == Some("published"));
            guesses += usize::from(is_guess);
        }
        assert!(guesses > 0);
    }

    #[test]
    fn a_load_that_one_report_speaks_for_is_not_told_as_published() {
        let weak: Vec<_> = typical_loads::typical_loads()
            .iter()
            .filter(|load| load.low_trust)
            .collect();
        assert!(weak.len() > 3);
        for typical in weak {
            let part = shipped().loads.iter().find(|part| part.id == typical.id);
            let part = part.unwrap();
            assert_eq!(part.figure_from.as_deref(), Some("guess"), "{}", part.id);
            let source = part.figure_source.as_deref().unwrap();
            assert!(source.contains("low trust"), "{source}");
        }
    }

    #[test]
    fn a_fuse_has_the_figures_of_its_data_sheet() {
        // Two makers' data sheets to ISO 8820-3: 40 A drops 96 mV at 1.44 milliohm cold, and any
        // breaks 1000 A at 32 V d.c.
        let list = shipped();
        let fuse = list
            .devices
            .iter()
            .find(|part| part.id == "blade-medium-40");
        let fuse = fuse.unwrap();
        assert_eq!(fuse.resistance_mohm, Some(1.44));
        assert_eq!(fuse.interrupting_a, Some(1000.0));
        assert_eq!(fuse.rated_v, Some(32.0));
    }
}
