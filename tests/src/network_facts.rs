//! Networks and their node volts by ngspice, as committed in `tests/facts/ngspice`.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use harness_core::network::{Behavior, Conductor, Load, Network, Source};
use harness_core::units::{Amperes, Ohms, Volts, Watts};
use serde::{Deserialize, Serialize};

/// Below this part of the nominal volts constant-power loads draw no more in ngspice.
pub const GUARD: f64 = 0.5;

/// One network with what ngspice found for it.
#[derive(Clone, Debug, PartialEq)]
pub struct Reference {
    /// Number in the files.
    pub id: usize,
    /// Name of its shape.
    pub shape: String,
    /// Program and version that solved it.
    pub program: String,
    /// Volts without drops, V.
    pub nominal_v: f64,
    /// The network.
    pub network: Network,
    /// Solutions, each with another share of all constant-power loads.
    pub runs: Vec<Run>,
}

/// Node volts with a share of all constant-power loads.
#[derive(Clone, Debug, PartialEq)]
pub struct Run {
    /// Factor on every constant-power load.
    pub power_share: f64,
    /// Volts of each node, V.
    pub node_volts: Vec<f64>,
}

impl Reference {
    /// Share of each load in a run.
    pub fn shares(&self, run: &Run) -> Vec<f64> {
        let is_power = |load: &Load| matches!(load.behavior, Behavior::Power(_));
        let share = |load| if is_power(load) { run.power_share } else { 1.0 };
        self.network.loads.iter().map(share).collect()
    }

    /// The constant-power load that ngspice finds lowest, if that is below the guard: its power
    /// cannot be drawn at more volts than that.
    pub fn collapsed_load(&self, run: &Run) -> Option<usize> {
        let loads = self.network.loads.iter().enumerate();
        loads
            .filter(|(_, load)| matches!(load.behavior, Behavior::Power(_)))
            .map(|(index, load)| (index, run.node_volts[load.from] - run.node_volts[load.to]))
            .filter(|(_, volts)| *volts < GUARD * self.nominal_v)
            .min_by(|a, b| a.1.total_cmp(&b.1))
            .map(|(index, _)| index)
    }
}

#[derive(Deserialize, Serialize)]
struct NetworkRow {
    network: usize,
    shape: String,
    nominal_v: f64,
    nodes: usize,
    reference: usize,
    program: String,
}

#[derive(Deserialize, Serialize)]
struct ElementRow {
    network: usize,
    element: String,
    from: usize,
    to: usize,
    value: f64,
    inner_ohm: f64,
}

#[derive(Deserialize, Serialize)]
struct ResultRow {
    network: usize,
    power_share: f64,
    node: usize,
    volts_v: f64,
}

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("facts/ngspice")
}

fn rows<Row: for<'de> Deserialize<'de>>(file: &str) -> Vec<Row> {
    let path = folder().join(file);
    let mut reader = csv::Reader::from_path(&path)
        .unwrap_or_else(|error| panic!("{} cannot be read: {error}", path.display()));
    reader
        .deserialize()
        .map(|row| row.expect("the columns named in the first line"))
        .collect()
}

fn write_rows<Row: Serialize>(file: &str, rows: impl Iterator<Item = Row>) {
    let mut writer = csv::Writer::from_path(folder().join(file)).expect("the folder is writable");
    for row in rows {
        writer.serialize(row).expect("plain numbers and names");
    }
    writer.flush().expect("the file takes all rows");
}

/// Every committed network.
pub fn read() -> Vec<Reference> {
    let mut references: BTreeMap<usize, Reference> = rows("networks.csv")
        .into_iter()
        .map(|row: NetworkRow| {
            let network = Network {
                node_count: row.nodes,
                reference: row.reference,
                ..Network::default()
            };
            let reference = Reference {
                id: row.network,
                shape: row.shape,
                program: row.program,
                nominal_v: row.nominal_v,
                network,
                runs: Vec::new(),
            };
            (row.network, reference)
        })
        .collect();
    for row in rows::<ElementRow>("elements.csv") {
        let network = &mut references
            .get_mut(&row.network)
            .expect("a listed network")
            .network;
        let (from, to) = (row.from, row.to);
        let mut load = |behavior| network.loads.push(Load { from, to, behavior });
        match row.element.as_str() {
            "conductor_ohm" => {
                network.conductors.push(Conductor {
                    from,
                    to,
                    resistance: Ohms::new(row.value),
                });
            }
            "source_v" => network.sources.push(Source {
                from,
                to,
                emf: Volts::new(row.value),
                resistance: Ohms::new(row.inner_ohm),
            }),
            "load_a" => load(Behavior::Current(Amperes::new(row.value))),
            "load_w" => load(Behavior::Power(Watts::new(row.value))),
            "load_ohm" => load(Behavior::Resistance(Ohms::new(row.value))),
            other => panic!("elements.csv: unknown element {other:?}"),
        }
    }
    for row in rows::<ResultRow>("results.csv") {
        let reference = references.get_mut(&row.network).expect("a listed network");
        if row.node == 0 {
            let run = Run {
                power_share: row.power_share,
                node_volts: Vec::new(),
            };
            reference.runs.push(run);
        }
        let run = reference
            .runs
            .last_mut()
            .expect("results start with node 0");
        assert_eq!(
            (run.power_share, run.node_volts.len()),
            (row.power_share, row.node)
        );
        run.node_volts.push(row.volts_v);
    }
    references.into_values().collect()
}

/// Replaces the committed networks and results.
pub fn write(references: &[Reference]) {
    write_rows(
        "networks.csv",
        references.iter().map(|reference| NetworkRow {
            network: reference.id,
            shape: reference.shape.clone(),
            nominal_v: reference.nominal_v,
            nodes: reference.network.node_count,
            reference: reference.network.reference,
            program: reference.program.clone(),
        }),
    );
    write_rows("elements.csv", references.iter().flat_map(element_rows));
    write_rows("results.csv", references.iter().flat_map(result_rows));
}

fn element_rows(reference: &Reference) -> Vec<ElementRow> {
    let row = |element: &str, from, to, value, inner_ohm| ElementRow {
        network: reference.id,
        element: element.to_owned(),
        from,
        to,
        value,
        inner_ohm,
    };
    let network = &reference.network;
    let conductors = network
        .conductors
        .iter()
        .map(|c| row("conductor_ohm", c.from, c.to, c.resistance.value(), 0.0));
    let sources = network.sources.iter().map(|s| {
        row(
            "source_v",
            s.from,
            s.to,
            s.emf.value(),
            s.resistance.value(),
        )
    });
    let loads = network.loads.iter().map(|load| {
        let (element, value) = match load.behavior {
            Behavior::Current(current) => ("load_a", current.value()),
            Behavior::Power(power) => ("load_w", power.value()),
            Behavior::Resistance(resistance) => ("load_ohm", resistance.value()),
        };
        row(element, load.from, load.to, value, 0.0)
    });
    conductors.chain(sources).chain(loads).collect()
}

fn result_rows(reference: &Reference) -> Vec<ResultRow> {
    let rows_of_run = |run: &Run| -> Vec<ResultRow> {
        let volts = run.node_volts.iter().enumerate();
        volts
            .map(|(node, &volts_v)| ResultRow {
                network: reference.id,
                power_share: run.power_share,
                node,
                volts_v,
            })
            .collect()
    };
    reference.runs.iter().flat_map(rows_of_run).collect()
}
