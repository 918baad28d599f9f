//! `server check FILE`: the study of one model file on the command line.

use std::io::Write;
use std::path::Path;

use harness_core::file_format;
use harness_core::report::Report;
use harness_core::study::{BoatChoice, Study};

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
        Ok(bytes) => match studied(&String::from_utf8_lossy(&bytes)) {
            Err(faults) => {
                told.extend(faults.iter().map(|fault| format!("{shown}: {fault}")));
                (BAD_FILE, err)
            }
            Ok(report) => {
                told.extend(lines(&report));
                let all_met = report.counts.fails == 0 && report.counts.not_evaluated == 0;
                (if all_met { ALL_MET } else { NOT_ALL_MET }, out)
            }
        },
    };
    for line in told {
        let _ = writeln!(stream, "{line}");
    }
    code
}

/// The report of a model file.
///
/// # Errors
/// Everything that is wrong with it.
pub fn studied(text: &str) -> Result<Report, Vec<String>> {
    let model = file_format::read(text)
        .map_err(|faults| faults.iter().map(ToString::to_string).collect::<Vec<_>>())?;
    let study = Study::of(model, BoatChoice::Every).map_err(|no_boat| vec![no_boat.to_string()])?;
    Ok(Report::of(&study))
}

/// The summary, then each limit that fails and each that could not be evaluated.
fn lines(report: &Report) -> Vec<String> {
    let mut lines = report.summary().to_vec();
    for (outcome, heading) in [("fails", "Fails:"), ("not evaluated", "Not evaluated:")] {
        let found: Vec<_> = report
            .findings
            .iter()
            .filter(|finding| finding.outcome == outcome)
            .collect();
        if found.is_empty() {
            continue;
        }
        lines.push(heading.to_owned());
        lines.extend(found.iter().map(|finding| {
            let circuit = finding
                .circuit
                .as_ref()
                .map_or(String::new(), |number| format!("circuit {number}, "));
            let next = if finding.next_step.is_empty() {
                String::new()
            } else {
                format!(" {}", finding.next_step)
            };
            let boats = finding
                .failing_boats
                .as_ref()
                .filter(|_| finding.outcome == "fails")
                .map_or(String::new(), |count| {
                    format!(" On {count} of {} boats.", report.boats.buildable)
                });
            format!(
                "  {} ({circuit}{}): {}{boats}{next}",
                finding.rule, finding.place, finding.message
            )
        }));
    }
    lines
}
