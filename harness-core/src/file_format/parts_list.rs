//! What a parts list may not say, beyond what its declaration tells.

use super::fault::Fault;
use super::records::{LoadPartRecord, PartsRecord};

/// Every fault of meaning of a parts list.
pub(super) fn faults(list: &PartsRecord) -> Vec<Fault> {
    let mut faults = Vec::new();
    for (number, part) in list.loads.iter().enumerate() {
        draws(&format!("/loads/{number}"), part, &mut faults);
        let volts = [("min_v", part.min_v), ("max_v", part.max_v)];
        ordered(&format!("/loads/{number}"), &part.id, volts, &mut faults);
    }
    for (number, part) in list.connector_types.iter().enumerate() {
        let areas = [("min_mm2", part.min_mm2), ("max_mm2", part.max_mm2)];
        let place = format!("/connector_types/{number}");
        ordered(&place, &part.id, areas, &mut faults);
    }
    for (number, part) in list.terminal_parts.iter().enumerate() {
        let areas = [("min_mm2", part.min_mm2), ("max_mm2", part.max_mm2)];
        let place = format!("/terminal_parts/{number}");
        ordered(&place, &part.id, areas, &mut faults);
    }
    faults
}

fn draws(place: &str, part: &LoadPartRecord, faults: &mut Vec<Fault>) {
    let stated = [
        ("current_a", part.current_a),
        ("power_w", part.power_w),
        ("resistance_ohm", part.resistance_ohm),
    ];
    let mut stated = stated.iter().filter(|(_, figure)| figure.is_some());
    let (_, Some((field, figure))) = (stated.next(), stated.next()) else {
        return;
    };
    faults.push(Fault {
        pointer: format!("{place}/{field}"),
        detail: format!(
            "Load part \"{}\" states more than one of current_a, power_w and resistance_ohm. Keep \
             the one it behaves as.",
            part.id
        ),
        given: figure.map(|figure| figure.to_string()).unwrap_or_default(),
        limit: "one of the three".to_owned(),
    });
}

/// A fault if the least lies above the greatest.
fn ordered(place: &str, id: &str, ends: [(&str, Option<f64>); 2], faults: &mut Vec<Fault>) {
    let [(least, Some(from)), (greatest, Some(to))] = ends else {
        return;
    };
    if from > to {
        faults.push(Fault {
            pointer: format!("{place}/{least}"),
            detail: format!(
                "Part \"{id}\" states {least} {from} above its {greatest} {to}. Correct one of \
                 them."
            ),
            given: from.to_string(),
            limit: format!("at most {to}"),
        });
    }
}

#[cfg(test)]
mod tests {
    use crate::file_format::{read_parts, write_parts};

    #[test]
    fn every_fault_of_a_parts_list_is_told_at_once_with_its_place() {
        let text = r#"{"format_version": 1,
            "loads": [{"id": "pump", "current_a": 3, "power_w": 36},
                      {"id": "lamp", "min_v": 14, "max_v": 10},
                      {"id": "lamp.2", "curent_a": 1}],
            "connector_types": [{"id": "K", "cavities": 4, "contact": "none-such"}]}"#;
        let faults = read_parts(text).unwrap_err();
        let places: Vec<_> = faults.iter().map(|fault| fault.pointer.as_str()).collect();
        assert_eq!(
            places,
            [
                "/connector_types/0/contact",
                "/loads/2/curent_a",
                "/loads/2/id"
            ]
        );
        // What things mean is judged once each can be read.
        let text = text
            .replace(r#", "contact": "none-such""#, "")
            .replace(r#""lamp.2", "curent_a""#, r#""lamp-2", "current_a""#);
        let faults = read_parts(&text).unwrap_err();
        let places: Vec<_> = faults.iter().map(|fault| fault.pointer.as_str()).collect();
        assert_eq!(places, ["/loads/0/power_w", "/loads/1/min_v"]);
        assert!(read_parts("{").unwrap_err()[0].detail.contains("not JSON"));
        let twice = r#"{"format_version": 1, "format_version": 1}"#;
        assert_eq!(read_parts(twice).unwrap_err().len(), 1);
    }

    #[test]
    fn a_list_is_written_as_it_was_read() {
        let text = r#"{"format_version": 1, "conductors": [{"id": "T-12",
            "size": "12 AWG", "insulation_degc": 105, "strands": 65, "price_per_m": 1.1}],
            "devices": [{"id": "B-10", "kind": "fuse", "rating_a": 10, "figure_from": "label"}]}"#;
        let list = read_parts(text).unwrap();
        let written = write_parts(&list);
        assert_eq!(read_parts(&written).unwrap(), list);
        assert_eq!(write_parts(&read_parts(&written).unwrap()), written);
    }
}
