//! ngspice as a second opinion: netlists out, node volts in.
//!
//! Constant power is written `I = P / max(V, guard)`. Unguarded, ngspice settles at the
//! operating point at low volts without any message.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::Path;
use std::process::Command;

use harness_core::network::{Behavior, Network};

/// Tolerances far below the differences looked for; the defaults stop at a thousandth.
const TIGHT: &str = ".options reltol=1e-13 abstol=1e-15 vntol=1e-13 itl1=2000\n";

/// Name of a node in a netlist.
fn node(network: &Network, node: usize) -> String {
    if node == network.reference {
        "0".to_owned()
    } else {
        format!("n{node}")
    }
}

/// The network as netlist lines; constant power loads draw no more once below `guard_v`.
/// `power_share` scales them all.
pub fn netlist(network: &Network, guard_v: f64, power_share: f64) -> String {
    let name = |index: usize| node(network, index);
    let mut text = String::from("network\n");
    let mut line = |arguments: std::fmt::Arguments<'_>| {
        text.write_fmt(arguments).expect("writing to memory");
        text.push('\n');
    };
    for (i, c) in network.conductors.iter().enumerate() {
        let (from, to, ohms) = (name(c.from), name(c.to), c.resistance.value());
        if ohms == 0.0 {
            line(format_args!("VC{i} {from} {to} 0"));
        } else {
            line(format_args!("RC{i} {from} {to} {ohms:e}"));
        }
    }
    for (i, s) in network.sources.iter().enumerate() {
        let (from, to) = (name(s.from), name(s.to));
        let (volts, ohms) = (s.emf.value(), s.resistance.value());
        if ohms == 0.0 {
            line(format_args!("VS{i} {to} {from} {volts:e}"));
        } else {
            line(format_args!("VS{i} inner{i} {from} {volts:e}"));
            line(format_args!("RS{i} inner{i} {to} {ohms:e}"));
        }
    }
    for (i, l) in network.loads.iter().enumerate() {
        let (from, to) = (name(l.from), name(l.to));
        match l.behavior {
            Behavior::Current(current) => {
                line(format_args!("IL{i} {from} {to} {:e}", current.value()));
            }
            Behavior::Resistance(resistance) => {
                line(format_args!("RL{i} {from} {to} {:e}", resistance.value()));
            }
            Behavior::Power(power) => line(format_args!(
                "BL{i} {from} {to} I={:e}/max(V({from},{to}),{guard_v:e})",
                power.value() * power_share
            )),
        }
    }
    text
}

/// First line of `ngspice --version` that names the program, or nothing if it is not installed.
pub fn version() -> Option<String> {
    let output = Command::new("ngspice").arg("--version").output().ok()?;
    let text = String::from_utf8_lossy(&output.stdout).into_owned();
    text.lines()
        .find_map(|line| line.trim_matches(['*', ' ']).strip_prefix("ngspice-"))
        .and_then(|rest| rest.split_whitespace().next())
        .map(|number| format!("ngspice {number}"))
}

/// Runs a control block on a netlist in batch mode; what it prints.
pub fn run(netlist: &str, control: &str, file: &Path) -> String {
    let text = format!("{netlist}.control\n{control}quit\n.endc\n.end\n");
    std::fs::write(file, text).expect("the folder for temporary files takes a netlist");
    let output = Command::new("ngspice")
        .arg("-b")
        .arg(file)
        .output()
        .expect("ngspice starts");
    String::from_utf8_lossy(&output.stdout).into_owned()
}

/// Node volts of the operating point, every digit; nothing if ngspice finds none.
pub fn node_volts(network: &Network, netlist: &str, file: &Path) -> Option<Vec<f64>> {
    let printed = run(
        &format!("{netlist}{TIGHT}"),
        "set numdgt=16\nop\nprint all\n",
        file,
    );
    let volts: BTreeMap<usize, f64> = printed
        .lines()
        .filter_map(|line| {
            let (name, value) = line.split_once(" = ")?;
            Some((
                name.trim().strip_prefix('n')?.parse().ok()?,
                value.trim().parse().ok()?,
            ))
        })
        .collect();
    let of_node = |node: usize| {
        if node == network.reference {
            Some(0.0)
        } else {
            volts.get(&node).copied()
        }
    };
    (0..network.node_count).map(of_node).collect()
}
