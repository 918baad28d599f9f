//! Instances to size with what HiGHS finds for them, as committed in `tests/facts/sizing`.

use std::path::{Path, PathBuf};

use harness_core::sizing::least_copper::{Instance, Row, Term};
use serde::{Deserialize, Serialize, de::DeserializeOwned};

use crate::sized_boats::{AREAS_MM2, KG_PER_M_MM2, Plan, SizedBoats, sizes_from};

/// Seeds of the committed instances.
pub const SEEDS: [u64; 4] = [1, 2, 3, 4];

/// A model of 60 circuits: 244 segments, 30 options.
pub const fn plan(seed: u64) -> Plan {
    Plan {
        seed,
        options: 30,
        loads: 60,
        junctions: 62,
    }
}

/// The folder of the files.
pub fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("facts/sizing")
}

/// The file of an instance.
pub fn file(seed: u64) -> PathBuf {
    folder().join(format!("instance-{seed}.json"))
}

/// An instance, small enough to be read by others.
#[derive(Clone, Debug, PartialEq, Deserialize, Serialize)]
pub struct Committed {
    /// Seed of the model.
    pub seed: u64,
    /// Every area, mm2.
    pub areas_mm2: Vec<f64>,
    /// Mass of copper, kg for each m and mm2.
    pub copper_kg_per_m_mm2: f64,
    /// The segments.
    pub segments: Vec<CommittedSegment>,
    /// The drops of loads on the boats found to be the worst.
    pub rows: Vec<CommittedRow>,
}

/// A segment that takes every area from the least on.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize, Serialize)]
pub struct CommittedSegment {
    /// Length, m.
    pub length_m: f64,
    /// The least area, mm2.
    pub least_mm2: f64,
}

/// The drop of a load on a boat: the sum of each term divided by the area of its segment.
#[derive(Clone, Debug, PartialEq, Deserialize, Serialize)]
pub struct CommittedRow {
    /// The load.
    pub load: usize,
    /// The boat.
    pub boat: usize,
    /// Most volts allowed.
    pub limit_v: f64,
    /// Segments with volts times mm2.
    pub terms: Vec<(usize, f64)>,
}

impl Committed {
    /// Of a model and the rows found for it.
    pub fn of(seed: u64, model: &SizedBoats, instance: &Instance) -> Self {
        let lengths = model.lengths_m.iter();
        let segment = |(&length_m, segment): (&f64, &_)| CommittedSegment {
            length_m,
            least_mm2: least_mm2(segment),
        };
        let row = |row: &Row| CommittedRow {
            load: row.load,
            boat: row.boat,
            limit_v: row.limit_v,
            terms: row.terms.iter().map(|t| (t.segment, t.volts_mm2)).collect(),
        };
        Self {
            seed,
            areas_mm2: AREAS_MM2.to_vec(),
            copper_kg_per_m_mm2: KG_PER_M_MM2,
            segments: lengths.zip(&instance.segments).map(segment).collect(),
            rows: instance.rows.iter().map(row).collect(),
        }
    }

    /// As the solver takes it.
    pub fn instance(&self) -> Instance {
        assert_eq!(self.areas_mm2, AREAS_MM2);
        assert_eq!(self.copper_kg_per_m_mm2, KG_PER_M_MM2);
        let segments = self.segments.iter().map(|segment| {
            let least = AREAS_MM2.iter().position(|area| *area == segment.least_mm2);
            sizes_from(least.expect("an area of the list"), segment.length_m)
        });
        let term = |&(segment, volts_mm2): &(usize, f64)| Term { segment, volts_mm2 };
        let row = |row: &CommittedRow| Row {
            load: row.load,
            boat: row.boat,
            limit_v: row.limit_v,
            terms: row.terms.iter().map(term).collect(),
            ..Row::default()
        };
        Instance {
            segments: segments.collect(),
            rows: self.rows.iter().map(row).collect(),
            ..Instance::default()
        }
    }
}

fn least_mm2(segment: &harness_core::sizing::least_copper::Segment) -> f64 {
    segment.choices[0].area_mm2
}

/// What HiGHS found, as `highs.py` writes it.
#[derive(Clone, Debug, PartialEq, Deserialize)]
pub struct Found {
    /// Seed of the instance.
    pub seed: u64,
    /// Mass of its best sizes.
    pub best_kg: f64,
    /// The mass it shows that nothing can go below.
    pub bound_kg: f64,
    /// How long it ran.
    pub seconds: f64,
    /// Whether it came to its end, in its words.
    pub status: String,
    /// Every better solution: seconds from the start, and its mass.
    pub reached: Vec<(f64, f64)>,
}

impl Found {
    /// Seconds until it had sizes no heavier than this; `None` if it never had.
    pub fn as_light_after(&self, mass_kg: f64) -> Option<f64> {
        let as_light = |&&(_, kg): &&(f64, f64)| kg <= mass_kg * (1.0 + 1e-9);
        self.reached
            .iter()
            .find(as_light)
            .map(|(seconds, _)| *seconds)
    }
}

/// The committed results.
#[derive(Clone, Debug, Deserialize)]
pub struct Results {
    /// Program and version.
    pub program: String,
    /// How long it was given for each instance, s.
    pub time_limit_s: f64,
    /// One for each instance.
    pub results: Vec<Found>,
}

fn read<T: DeserializeOwned>(path: &Path) -> T {
    let text =
        std::fs::read_to_string(path).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
    serde_json::from_str(&text).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

/// The committed instance of a seed.
pub fn instance(seed: u64) -> Committed {
    read(&file(seed))
}

/// The committed results.
pub fn results() -> Results {
    read(&folder().join("results.json"))
}
