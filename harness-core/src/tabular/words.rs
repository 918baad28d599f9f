//! Words of headings, sheet names and closed lists, forgiving of how they are written.

/// Words that are written otherwise elsewhere, and as the model file writes them.
const SPELLINGS: &[(&str, &str)] = &[
    ("aluminium", "aluminum"),
    ("armour", "armor"),
    ("behaviour", "behavior"),
    ("centre", "center"),
    ("centreline", "centerline"),
    ("colour", "color"),
    ("colours", "colors"),
    ("earth", "ground"),
    ("earthing", "grounding"),
    ("fibre", "fiber"),
    ("grey", "gray"),
    ("gauge", "size"),
    ("labelled", "labeled"),
    ("molding", "moulding"),
    ("moldings", "mouldings"),
    ("odour", "odor"),
    ("vapour", "vapor"),
    ("watt", "w"),
    ("watts", "w"),
    ("volt", "v"),
    ("volts", "v"),
    ("amp", "a"),
    ("amps", "a"),
    ("ampere", "a"),
    ("amperes", "a"),
];

/// The words of a name: small letters, in the spelling of the model file. Anything but letters,
/// digits and signs of units stands between words.
pub(super) fn of(text: &str) -> Vec<String> {
    let parts = text.split(|c: char| !(c.is_alphanumeric() || "°²%\"'′″^".contains(c)));
    parts
        .filter(|part| !part.is_empty())
        .map(|part| {
            let part = part.to_lowercase();
            let known = SPELLINGS.iter().find(|(other, _)| *other == part);
            known.map_or(part, |(_, ours)| (*ours).to_owned())
        })
        .collect()
}

/// A name by which two ways of writing it are the same.
pub(super) fn key(text: &str) -> String {
    of(text).concat()
}

/// The word of a closed list that is meant, if one is.
pub(super) fn choice<'w>(given: &str, words: &[&'w str]) -> Option<&'w str> {
    let given = key(given);
    words.iter().copied().find(|word| key(word) == given)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spelling_case_and_joints_do_not_matter() {
        assert_eq!(key("Fuel vapour"), key("fuel_vapor"));
        assert_eq!(key("Hole.Number"), key("hole number"));
        assert_eq!(
            choice("Fuse Block", &["busbar", "fuse-block"]),
            Some("fuse-block")
        );
        assert_eq!(choice("block", &["busbar", "fuse-block"]), None);
    }
}
