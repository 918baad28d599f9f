//! Entry point of the service.

use std::io::{self, Write};
use std::process::ExitCode;

use server::config::{self, Command};
use server::{check, serve};

/// The command line, the environment or the model file is at fault.
const BAD_INPUT: u8 = 2;
/// The service cannot start or has to stop.
const FAILED: u8 = 1;

fn main() -> ExitCode {
    match config::read(std::env::args_os().skip(1), |name| std::env::var_os(name)) {
        Ok(Command::Help) => tell(config::HELP),
        Ok(Command::Check(file)) => check::run(&file, &mut io::stdout(), &mut io::stderr()).into(),
        Ok(Command::Serve(config)) => match serve::run(&config) {
            Ok(()) => ExitCode::SUCCESS,
            Err(fault) => fail(FAILED, &[fault.to_string()]),
        },
        Err(mut faults) => {
            faults.push("`server --help` shows what can be given".to_owned());
            fail(BAD_INPUT, &faults)
        }
    }
}

fn tell(text: &str) -> ExitCode {
    // Nobody is left to tell when the standard output is closed.
    let _ = io::stdout().write_all(text.as_bytes());
    ExitCode::SUCCESS
}

fn fail(code: u8, faults: &[String]) -> ExitCode {
    for fault in faults {
        let _ = writeln!(io::stderr(), "{fault}");
    }
    code.into()
}
