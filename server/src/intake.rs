//! What comes from outside, checked before anything else sees it.

use std::time::SystemTime;

use harness_core::file_format;
use harness_core::model::BoatModel;
use sha2::{Digest, Sha256};

use crate::error::{Error, Fault};
use crate::store::NewRevision;

/// Longest id of a boat model, in characters.
pub const ID_MAX: usize = 64;
/// Longest one-line text (who, why), in characters.
pub const LINE_MAX: usize = 200;
/// Letters of a stamp: short enough to compare by eye, long enough to tell revisions apart.
const STAMP_LENGTH: usize = 16;
/// Stands where nobody said who or why: no cell of a list is blank.
pub const NOT_STATED: &str = "not stated";

/// Ids that are words of an address, so that no boat model can hide a page.
const RESERVED_IDS: &[&str] = &["import"];

/// A model file that may be stored.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Accepted {
    /// Name of the boat model.
    pub name: String,
    /// The file, as it will be stored.
    pub body: String,
    /// Identifies the content of `body`.
    pub stamp: String,
}

impl Accepted {
    /// The revision to be recorded, as of now.
    pub fn revision<'a>(&'a self, who: &'a str, reason: &'a str) -> NewRevision<'a> {
        NewRevision {
            name: &self.name,
            body: &self.body,
            stamp: &self.stamp,
            who,
            reason,
            at: SystemTime::now(),
            restores: None,
        }
    }
}

/// Reads a model file: the only way by which one comes in.
///
/// # Errors
/// Every fault of the file, each with a pointer into it.
pub fn read(text: &str) -> Result<Accepted, Vec<Fault>> {
    read_model(text).map(|(file, _)| file)
}

/// The same with the model.
///
/// # Errors
/// Those of [`read`].
pub fn read_model(text: &str) -> Result<(Accepted, BoatModel), Vec<Fault>> {
    let model = file_format::read(text)
        .map_err(|faults| faults.into_iter().map(Fault::from).collect::<Vec<_>>())?;
    let name = line("/name", &model.name).map_err(|fault| vec![fault])?;
    Ok((accepted(name, text), model))
}

/// Reads a parts list: the only way by which one comes in.
///
/// # Errors
/// Every fault of the list, each with a pointer into it.
pub fn read_parts(text: &str) -> Result<Accepted, Vec<Fault>> {
    file_format::read_parts(text)
        .map_err(|faults| faults.into_iter().map(Fault::from).collect::<Vec<_>>())?;
    Ok(accepted("Parts list".to_owned(), text))
}

fn accepted(name: String, text: &str) -> Accepted {
    let digest: String = Sha256::digest(text)
        .iter()
        .map(|byte| format!("{byte:02x}"))
        .collect();
    Accepted {
        name,
        body: text.to_owned(),
        stamp: digest[..STAMP_LENGTH].to_owned(),
    }
}

/// One line of text a person typed, spaces at the ends removed; nothing typed is [`NOT_STATED`].
///
/// # Errors
/// A fault when it is longer than [`LINE_MAX`] characters or not on one line.
pub fn line(pointer: &str, text: &str) -> Result<String, Fault> {
    let text = text.trim();
    let length = text.chars().count();
    if length > LINE_MAX {
        let fault = Fault::new(pointer, "this text is too long: shorten it");
        return Err(fault
            .given(format!("{length} characters"))
            .limit(format!("at most {LINE_MAX} characters")));
    }
    if text.chars().any(char::is_control) {
        return Err(Fault::new(
            pointer,
            "this text must be on one line: remove line breaks and tabs",
        )
        .given(text));
    }
    Ok(if text.is_empty() { NOT_STATED } else { text }.to_owned())
}

/// The value, or nothing and its fault put with the others: all faults are told at once.
pub fn keep<T>(read: Result<T, Fault>, faults: &mut Vec<Fault>) -> Option<T> {
    read.map_err(|fault| faults.push(fault)).ok()
}

/// Who and why, as they stand in a form, with what is wrong put with the other faults.
pub fn signed(who: &str, reason: &str, faults: &mut Vec<Fault>) -> Option<(String, String)> {
    let who = keep(line("/who", who), faults);
    let reason = keep(line("/reason", reason), faults);
    who.zip(reason)
}

/// Number of a revision as it stands in an address.
///
/// # Errors
/// [`Error::NotFound`] when it is no number.
pub fn revision_number(text: &str) -> Result<i64, Error> {
    text.parse().map_err(|_| {
        Error::NotFound(format!(
            "Revisions are numbered 1, 2, 3 ...; “{text}” is none of them."
        ))
    })
}

/// Id of a boat model as a person typed it.
///
/// # Errors
/// A fault when it is empty, too long, a reserved word, or holds anything but small letters,
/// digits and single hyphens between them.
pub fn id(pointer: &str, text: &str) -> Result<String, Fault> {
    let text = text.trim();
    let wanted = "small letters a to z, digits, and hyphens between them";
    let well_formed = text.split('-').all(|part| {
        !part.is_empty()
            && part
                .bytes()
                .all(|b| b.is_ascii_lowercase() || b.is_ascii_digit())
    });
    if !well_formed {
        let detail = "the short name cannot stand in an address: write it as in launch-92";
        return Err(Fault::new(pointer, detail).given(text).limit(wanted));
    }
    if text.len() > ID_MAX {
        return Err(
            Fault::new(pointer, "the short name is too long: shorten it")
                .given(text)
                .limit(format!("at most {ID_MAX} characters")),
        );
    }
    if RESERVED_IDS.contains(&text) {
        return Err(Fault::new(
            pointer,
            "this word is part of an address: choose another short name",
        )
        .given(text));
    }
    Ok(text.to_owned())
}

/// Id made from the name of a boat model: `Launch 9.2` becomes `launch-9-2`.
///
/// # Errors
/// A fault when the name has no letter or digit that could stand in an address.
pub fn id_from_name(pointer: &str, name: &str) -> Result<String, Fault> {
    let lower = name.to_ascii_lowercase();
    let parts = lower
        .split(|c: char| !c.is_ascii_alphanumeric())
        .filter(|part| !part.is_empty());
    let mut made = parts.collect::<Vec<_>>().join("-");
    made.truncate(ID_MAX);
    id(pointer, made.trim_end_matches('-')).map_err(|_| {
        let detail = "no short name can be made from the name of the boat model: give one";
        Fault::new(pointer, detail).given(name)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_id_is_made_of_what_may_stand_in_an_address() {
        assert_eq!(
            id_from_name("", "Launch 9.2 / Pilothouse").unwrap(),
            "launch-9-2-pilothouse"
        );
        assert_eq!(id("", " tender-56 ").unwrap(), "tender-56");
        for bad in [
            "", "-a", "a-", "a--b", "A", "a b", "../a", "a/b", "é", "import",
        ] {
            assert!(id("/id", bad).is_err(), "{bad}");
        }
        assert!(id_from_name("", "船").is_err());
        assert!(id_from_name("", "Import").is_err());
    }

    #[test]
    fn both_sides_of_the_longest_id_and_line() {
        assert!(id("", &"a".repeat(ID_MAX)).is_ok());
        assert!(id("", &"a".repeat(ID_MAX + 1)).is_err());
        assert!(line("", &"é".repeat(LINE_MAX)).is_ok());
        let fault = line("/who", &"é".repeat(LINE_MAX + 1)).unwrap_err();
        assert_eq!(fault.pointer, "/who");
        assert!(line("", "two\nlines").is_err());
        assert_eq!(line("", "  ").unwrap(), NOT_STATED);
    }

    #[test]
    fn a_file_is_taken_whole_or_refused_with_every_fault() {
        let text = "{\"format_version\": 1, \"name\": \" Launch \"}";
        let model = read(text).unwrap();
        assert_eq!((model.name.as_str(), model.body.as_str()), ("Launch", text));
        assert_ne!(
            model.stamp,
            read(&text.replace("Launch", "Tender")).unwrap().stamp
        );
        assert_eq!(
            read("{\"format_version\": 2, \"name\": 3}")
                .unwrap_err()
                .len(),
            2
        );
        for bad in ["", "[]", "{}", "{\"format_version\": 1, \"name\": \"a\"} x"] {
            assert!(!read(bad).unwrap_err().is_empty(), "{bad}");
        }
    }
}
