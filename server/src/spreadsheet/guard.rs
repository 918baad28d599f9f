//! What is held against a file before anything is unpacked: a small file can unpack into one that
//! fills the memory.

use std::io::{self, Cursor, Read};

use harness_core::tabular::CellFault;
use zip::ZipArchive;

use super::refused;

/// Largest file, in bytes.
pub const MOST_BYTES: usize = 10 * MEBIBYTE;
/// Most that a workbook may unpack into, in bytes.
pub const MOST_UNPACKED: u64 = 100 * MEBIBYTE as u64;
/// Most parts of a workbook.
pub const MOST_ENTRIES: usize = 200;
/// Most cells of a file.
pub const MOST_CELLS: usize = 1_000_000;

const MEBIBYTE: usize = 1024 * 1024;
/// Most of a part that is read as a whole (texts, styles): sheets are read cell by cell.
const MOST_IN_MEMORY: u64 = 16 * MEBIBYTE as u64;
/// End of the name of the part with the texts that cells share.
const SHARED_TEXTS: &str = "sharedstrings.xml";
/// Attribute that announces how many there are.
const ANNOUNCED: &str = "uniqueCount";
/// Length of the record that ends an archive, without its comment.
const END_LENGTH: usize = 22;
/// Longest comment of an archive.
const COMMENT_LENGTH: usize = 65_535;

/// Holds the size of a file against the limit.
pub(super) fn size(bytes: &[u8]) -> Result<(), Vec<CellFault>> {
    if bytes.is_empty() {
        return Err(refused(
            "There is no file, or an empty one.",
            "an .xlsx workbook or a CSV file",
            "Choose the file.",
        ));
    }
    if bytes.len() > MOST_BYTES {
        return Err(refused(
            &format!("The file has {} MiB.", shown(bytes.len() as u64)),
            &format!("at most {} MiB", MOST_BYTES / MEBIBYTE),
            "Check that it is the right file; send its sheets one by one if it is.",
        ));
    }
    Ok(())
}

/// Holds the parts of a workbook against the limits: by what its directory says, then by what is
/// there, counted without being kept.
pub(super) fn unpacked(bytes: &[u8]) -> Result<(), Vec<CellFault>> {
    if entries(bytes).is_none_or(|entries| entries > MOST_ENTRIES) {
        return Err(refused(
            "The workbook is broken, or has too many parts.",
            &format!("at most {MOST_ENTRIES} parts"),
            "Open it, save it as .xlsx under a new name, and send that.",
        ));
    }
    let mut archive = ZipArchive::new(Cursor::new(bytes)).map_err(|_| broken())?;
    if archive.has_duplicate_names() || archive.len() > MOST_ENTRIES {
        return Err(broken());
    }
    let mut parts = Vec::new();
    let mut total = 0_u64;
    for at in 0..archive.len() {
        let part = archive.by_index_raw(at).map_err(|_| broken())?;
        let name = part.name().map_err(|_| broken())?.into_owned();
        if part.encrypted() {
            return Err(refused(
                "The workbook has a password.",
                "a workbook without a password",
                "Save it without a password and send it again.",
            ));
        }
        total = total.saturating_add(part.size());
        let is_streamed = name.starts_with("xl/worksheets/") || name.starts_with("xl/media/");
        let is_whole = !is_streamed || is_of_texts(&name);
        if is_whole && part.size() > MOST_IN_MEMORY {
            return Err(too_large(&name, part.size(), MOST_IN_MEMORY));
        }
        parts.push((name, part.size()));
    }
    if total > MOST_UNPACKED {
        return Err(too_large("the workbook", total, MOST_UNPACKED));
    }
    let has = |wanted: &str| parts.iter().any(|(name, _)| name == wanted);
    if !has("xl/workbook.xml") || has("xl/vbaProject.bin") {
        return Err(refused(
            "This is no workbook that is taken here: another kind of file, or one with macros.",
            "an .xlsx workbook without macros, or a CSV file",
            "Save it as .xlsx and send that.",
        ));
    }
    for (at, (name, size)) in parts.iter().enumerate() {
        let mut part = archive.by_index(at).map_err(|_| broken())?.take(size + 1);
        let there = if is_of_texts(name) {
            let mut texts = Vec::new();
            part.read_to_end(&mut texts).map_err(|_| broken())?;
            announced(&texts)?;
            texts.len() as u64
        } else {
            io::copy(&mut part, &mut io::sink()).map_err(|_| broken())?
        };
        if there != *size {
            return Err(refused(
                &format!("The part {name} unpacks into more or less than the workbook says."),
                &format!("{size} bytes, as stated"),
                "Open it, save it as .xlsx under a new name, and send that.",
            ));
        }
    }
    Ok(())
}

fn is_of_texts(name: &str) -> bool {
    name.to_lowercase().ends_with(SHARED_TEXTS)
}

/// Holds the number of texts that the shared list announces against the limit: room for so many is
/// made at once.
fn announced(texts: &[u8]) -> Result<(), Vec<CellFault>> {
    let texts = String::from_utf8_lossy(texts);
    for (at, attribute) in texts.match_indices(ANNOUNCED) {
        let after = texts[at + attribute.len()..].trim_start();
        let Some(value) = after.strip_prefix('=') else {
            continue;
        };
        let value = value.trim_start().trim_start_matches(['"', '\'', '+']);
        let digits = value.find(|letter: char| !letter.is_ascii_digit());
        let digits = &value[..digits.unwrap_or(value.len())];
        let is_too_many = |count: usize| count > MOST_CELLS;
        if !digits.is_empty() && digits.parse().map_or(true, is_too_many) {
            return Err(refused(
                &format!("The workbook announces {digits:.40} texts."),
                &format!("at most {MOST_CELLS} texts"),
                "Open it, save it as .xlsx under a new name, and send that.",
            ));
        }
    }
    Ok(())
}

/// How many parts the record at the end of an archive states, read before the directory itself.
fn entries(bytes: &[u8]) -> Option<usize> {
    let from = bytes.len().saturating_sub(END_LENGTH + COMMENT_LENGTH);
    let tail = &bytes[from..];
    let at = tail.windows(4).rposition(|four| four == b"PK\x05\x06")?;
    let count = tail.get(at + 10..at + 12)?;
    Some(usize::from(u16::from_le_bytes([count[0], count[1]])))
}

fn broken() -> Vec<CellFault> {
    refused(
        "The workbook is broken: its parts cannot be read.",
        "an .xlsx workbook",
        "Open it, save it as .xlsx under a new name, and send that.",
    )
}

fn too_large(what: &str, bytes: u64, most: u64) -> Vec<CellFault> {
    refused(
        &format!("Unpacked, {what} has {} MiB.", shown(bytes)),
        &format!("at most {} MiB unpacked", most / MEBIBYTE as u64),
        "Remove what is not a list of the boat model, or send the lists one by one.",
    )
}

fn shown(bytes: u64) -> String {
    let tenths = bytes.saturating_mul(10).div_ceil(MEBIBYTE as u64);
    format!("{}.{}", tenths / 10, tenths % 10)
}
