//! The service as a process of its own.

use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, ChildStdout, Command, Stdio};

/// A running service; killed when dropped.
pub struct Service {
    pub child: Child,
    /// Stays open: the service may have more to say.
    told: BufReader<ChildStdout>,
    /// Where it answers: `http://address:port`.
    pub address: String,
}

/// The program as it is shipped, on this data folder.
pub fn shipped(data: &Path) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_server"));
    command
        .args(["--listen", "127.0.0.1:0", "--data"])
        .arg(data)
        .env("HARNESS_LOG", "warn");
    command
}

impl Service {
    /// Starts it and waits until it says where it listens.
    pub fn start(command: &mut Command) -> Self {
        let mut child = spawn(command);
        let told = BufReader::new(child.stdout.take().expect("it was asked for"));
        let mut service = Self {
            child,
            told,
            address: String::new(),
        };
        while service.address.is_empty() {
            let mut line = String::new();
            let read = service.told.read_line(&mut line).unwrap_or(0);
            assert!(read > 0, "the service ended at once");
            if let Some(at) = line.find("http://") {
                line.trim()[at..]
                    .trim_end_matches('/')
                    .clone_into(&mut service.address);
            }
        }
        service
    }

    /// SIGKILL: it gets no chance to finish anything.
    pub fn kill(&mut self) {
        kill(&mut self.child);
    }
}

impl Drop for Service {
    fn drop(&mut self) {
        self.kill();
    }
}

/// Starts a process that is not waited for.
pub fn spawn(command: &mut Command) -> Child {
    let spawned = command.stdin(Stdio::null()).stdout(Stdio::piped()).spawn();
    spawned.unwrap_or_else(|fault| panic!("{command:?}: {fault}"))
}

/// Kills a process and waits until it is gone.
pub fn kill(child: &mut Child) {
    // Gone already is as good.
    let _ = child.kill();
    let _ = child.wait();
}
