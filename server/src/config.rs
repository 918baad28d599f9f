//! What the command line and the environment ask for.

use std::ffi::OsString;
use std::net::{Ipv4Addr, SocketAddr};
use std::path::PathBuf;

use lexopt::prelude::*;
use tracing_subscriber::filter::{LevelFilter, Targets};

/// Shown by `--help`.
pub const HELP: &str = "\
Designs and checks the DC wiring harness of a production boat model.

Usage:
  server [--listen ADDR:PORT] [--data DIR]   start the service
  server check FILE                          study a boat model file and say what fails

Options:
  --listen ADDR:PORT  where to listen; port 0 takes any free one [default: 127.0.0.1:8080]
  --data DIR          folder of the database, made when missing  [default: data]
  -h, --help          show this text

The environment variables HARNESS_LISTEN and HARNESS_DATA do the same; an option wins.
HARNESS_LOG sets what is logged to the standard error, as in `info` or `server=debug,sqlx=warn`.
`check` ends with 0 when every limit is met, 1 when something fails, 2 when the file is bad.
";

/// What to do.
#[derive(Clone, Debug, PartialEq)]
pub enum Command {
    /// Start the service.
    Serve(Config),
    /// Study this model file and print what fails.
    Check(PathBuf),
    /// Print [`HELP`].
    Help,
}

/// Settings of the service.
#[derive(Clone, Debug, PartialEq)]
pub struct Config {
    /// Where to listen; a loopback address.
    pub listen: SocketAddr,
    /// Folder of the database.
    pub data: PathBuf,
    /// What is logged.
    pub log: Targets,
}

/// Reads the arguments (without the name of the program) and the environment.
///
/// # Errors
/// Every fault found, each a sentence that says what was given and what is wanted.
pub fn read(
    arguments: impl IntoIterator<Item = OsString>,
    environment: impl Fn(&str) -> Option<OsString>,
) -> Result<Command, Vec<String>> {
    let mut faults = Vec::new();
    let mut listen = None;
    let mut data = None;
    let mut words: Vec<OsString> = Vec::new();

    let mut parser = lexopt::Parser::from_args(arguments);
    loop {
        match parser.next() {
            Ok(None) => break,
            Ok(Some(Short('h') | Long("help"))) => return Ok(Command::Help),
            Ok(Some(Long("listen"))) => match parser.value() {
                Ok(value) => listen = Some(("--listen", value)),
                Err(_) => faults.push("--listen is followed by no ADDR:PORT".to_owned()),
            },
            Ok(Some(Long("data"))) => match parser.value() {
                Ok(value) => data = Some(("--data", value)),
                Err(_) => faults.push("--data is followed by no folder".to_owned()),
            },
            Ok(Some(Value(word))) => words.push(word),
            Ok(Some(other)) => faults.push(other.unexpected().to_string()),
            Err(fault) => faults.push(fault.to_string()),
        }
    }

    let listen = listen.or_else(|| Some(("HARNESS_LISTEN", environment("HARNESS_LISTEN")?)));
    let data = data.or_else(|| Some(("HARNESS_DATA", environment("HARNESS_DATA")?)));
    let listen = match listen {
        Some((origin, text)) => loopback(origin, &text)
            .map_err(|fault| faults.push(fault))
            .ok(),
        None => Some(SocketAddr::from((Ipv4Addr::LOCALHOST, 8080))),
    };
    let data = match data {
        Some((origin, folder)) if folder.is_empty() => {
            faults.push(format!(
                "{origin} is empty: name the folder of the database"
            ));
            None
        }
        Some((_, folder)) => Some(PathBuf::from(folder)),
        None => Some(PathBuf::from("data")),
    };

    let log = match environment("HARNESS_LOG") {
        Some(text) => levels(&text).map_err(|fault| faults.push(fault)).ok(),
        None => Some(usual_levels()),
    };

    let file = match words
        .iter()
        .map(|word| word.to_str())
        .collect::<Vec<_>>()
        .as_slice()
    {
        [] => None,
        [Some("check")] => {
            faults.push("check is followed by no FILE: name a boat model file".to_owned());
            None
        }
        [Some("check"), _] => words.pop().map(PathBuf::from),
        [Some("check"), _, ..] => {
            faults.push(format!(
                "check takes one FILE, {} were given",
                words.len() - 1
            ));
            None
        }
        _ => {
            let given = words[0].to_string_lossy();
            faults.push(format!(
                "there is no command `{given}`: `check FILE`, or none to serve"
            ));
            None
        }
    };

    match (file, listen, data, log) {
        (Some(file), ..) if faults.is_empty() => Ok(Command::Check(file)),
        (None, Some(listen), Some(data), Some(log)) if faults.is_empty() => {
            Ok(Command::Serve(Config { listen, data, log }))
        }
        _ => Err(faults),
    }
}

/// An address on this machine only: without accounts, whoever reaches the port may change every
/// boat model.
fn loopback(origin: &str, text: &OsString) -> Result<SocketAddr, String> {
    let shown = text.to_string_lossy();
    let address: SocketAddr = shown.parse().map_err(|_| {
        format!("{origin} is `{shown}`: an IP address and a port are wanted, as in 127.0.0.1:8080")
    })?;
    if !address.ip().is_loopback() {
        return Err(format!(
            "{origin} is `{shown}`, which other machines can reach: there are no accounts yet, so \
             anybody there could change every boat model. Use 127.0.0.1 or [::1]"
        ));
    }
    Ok(address)
}

fn usual_levels() -> Targets {
    Targets::new()
        .with_default(LevelFilter::INFO)
        .with_target("sqlx", LevelFilter::WARN)
}

fn levels(text: &OsString) -> Result<Targets, String> {
    let shown = text.to_string_lossy();
    shown.parse().map_err(|_| {
        format!("HARNESS_LOG is `{shown}`: levels are wanted, as in info or server=debug,sqlx=warn")
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn with(arguments: &[&str], environment: &[(&str, &str)]) -> Result<Command, Vec<String>> {
        read(arguments.iter().map(OsString::from), |name| {
            environment
                .iter()
                .find(|(known, _)| *known == name)
                .map(|(_, value)| value.into())
        })
    }

    fn serve(listen: &str, data: &str) -> Result<Command, Vec<String>> {
        Ok(Command::Serve(Config {
            listen: listen.parse().unwrap(),
            data: data.into(),
            log: usual_levels(),
        }))
    }

    #[test]
    fn nothing_given_serves_this_machine() {
        assert_eq!(with(&[], &[]), serve("127.0.0.1:8080", "data"));
    }

    #[test]
    fn an_option_wins_over_the_environment() {
        let environment = [("HARNESS_LISTEN", "127.0.0.1:1"), ("HARNESS_DATA", "there")];
        assert_eq!(with(&[], &environment), serve("127.0.0.1:1", "there"));
        let both = with(&["--listen", "[::1]:0", "--data=here"], &environment);
        assert_eq!(both, serve("[::1]:0", "here"));
    }

    #[test]
    fn an_address_that_others_reach_is_refused_with_the_reason() {
        for open in ["0.0.0.0:8080", "192.168.1.4:80", "[::]:8080"] {
            let faults = with(&["--listen", open], &[]).unwrap_err();
            assert_eq!(faults.len(), 1);
            assert!(
                faults[0].contains(open) && faults[0].contains("no accounts"),
                "{faults:?}"
            );
        }
    }

    #[test]
    fn every_fault_is_told_at_once() {
        let faults = with(
            &["--listen", "nowhere", "--colour", "paint"],
            &[("HARNESS_DATA", "")],
        );
        assert_eq!(faults.unwrap_err().len(), 4);
        assert_eq!(with(&["--listen"], &[]).unwrap_err().len(), 1);
        assert_eq!(with(&["check"], &[]).unwrap_err().len(), 1);
        assert_eq!(with(&["check", "a", "b"], &[]).unwrap_err().len(), 1);
    }

    #[test]
    fn check_names_one_file() {
        assert_eq!(
            with(&["check", "boat.json"], &[]),
            Ok(Command::Check("boat.json".into()))
        );
        assert_eq!(with(&["-h"], &[]), Ok(Command::Help));
    }
}
