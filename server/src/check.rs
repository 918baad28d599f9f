//! `server check FILE`: the study of one model file on the command line.

use std::io::Write;
use std::path::Path;

use crate::intake;

/// Every limit is met on every buildable boat.
pub const ALL_MET: u8 = 0;
/// Something fails or could not be evaluated.
pub const NOT_ALL_MET: u8 = 1;
/// The file cannot be read or is not a boat model.
pub const BAD_FILE: u8 = 2;

/// Reads `file`, prints what fails to `out` and what is wrong with the file to `err`; the answer
/// is the exit code.
pub fn run(file: &Path, out: &mut impl Write, err: &mut impl Write) -> u8 {
    let shown = file.display();
    // A closed output is no reason to change the verdict.
    let mut told = Vec::new();
    let (code, stream): (u8, &mut dyn Write) = match std::fs::read(file) {
        Err(fault) => {
            told.push(format!("{shown} cannot be read: {fault}"));
            (BAD_FILE, err)
        }
        Ok(bytes) => match intake::read(&String::from_utf8_lossy(&bytes)) {
            Err(faults) => {
                told.extend(faults.iter().map(|fault| format!("{shown}{fault}")));
                (BAD_FILE, err)
            }
            Ok(model) => {
                told.push(format!("{}: read; not evaluated", model.name));
                (NOT_ALL_MET, out)
            }
        },
    };
    for line in told {
        let _ = writeln!(stream, "{line}");
    }
    code
}
