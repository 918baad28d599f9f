//! What a saved record may hold, declared once.
//!
//! Each record is declared with `record!`: the declaration gives the Rust type that is read
//! and written, and the [`Form`] from which faults are found, the schema is published and
//! broken files are generated in the tests.

use crate::units::bounds::Bounds;

/// Kinds of things that have an id, for uniqueness and references.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    /// Hull, deck, console, roof ...
    Moulding,
    /// Named part of the boat.
    Zone,
    /// Place where runs meet and equipment sits.
    Point,
    /// Stretch between two points.
    Run,
    /// Harness part.
    Harness,
    /// Anything a wire can end on: these share one name space, since labels print it.
    Equipment,
    /// Battery bank, alternator, charger.
    Source,
    /// Fuse, breaker, switch, relay, diode.
    Device,
    /// Busbar, fuse block, stud.
    Bus,
    /// Connector on the harness.
    Connector,
    /// Permanent joint of wires.
    Splice,
    /// Consumer.
    Load,
    /// Connector part.
    ConnectorType,
    /// Terminal part.
    TerminalPart,
    /// Insulated conductor as it is bought.
    ConductorPart,
    /// Mated pair of connectors.
    Coupler,
    /// Jacket or twisted group of wires.
    Cable,
    /// One insulated conductor.
    Wire,
    /// From a protective device to its loads and back.
    Circuit,
    /// Orderable option.
    Option,
    /// Operating state.
    State,
    /// One boat of the series.
    Hull,
}

impl Kind {
    /// The kind in the words of a message.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Moulding => "moulding",
            Self::Zone => "zone",
            Self::Point => "point",
            Self::Run => "run",
            Self::Harness => "harness",
            Self::Equipment => "equipment",
            Self::Source => "source",
            Self::Device => "device",
            Self::Bus => "bus, block or stud",
            Self::Connector => "connector",
            Self::Splice => "splice",
            Self::Load => "load",
            Self::ConnectorType => "connector type",
            Self::TerminalPart => "terminal part",
            Self::ConductorPart => "conductor part",
            Self::Coupler => "coupler",
            Self::Cable => "cable",
            Self::Wire => "wire",
            Self::Circuit => "circuit",
            Self::Option => "option",
            Self::State => "operating state",
            Self::Hull => "hull",
        }
    }
}

/// What one value may be.
#[derive(Clone, Copy, Debug)]
pub enum Shape {
    /// Short name, unique within each of these kinds.
    Id(&'static [Kind]),
    /// The id of one of this kind.
    Ref(Kind),
    /// Where a wire ends: `equipment.pin`.
    End,
    /// Free text, not empty.
    Text,
    /// `true` or `false`.
    Flag,
    /// A number within bounds.
    Number(&'static Bounds),
    /// A whole number from the first to the second.
    Whole(u32, u32),
    /// One of these words.
    Choice(&'static [&'static str]),
    /// A conductor size: `12 AWG`, `2.5 mm2`.
    Size,
    /// When a thing is fitted: an option, or `all` / `any` / `not` of such.
    Condition,
    /// A list of values, with the least number of them.
    List(&'static Shape, usize),
    /// A number for each name of this kind; `None` leaves the names free.
    Numbers(Option<Kind>, &'static Bounds),
    /// A record of its own.
    Record(&'static Form),
}

/// Whether a field may be left out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Need {
    /// Without it nothing can be read.
    Required,
    /// Left out, the results that need it are not evaluated.
    Optional,
}

/// One field of a record.
#[derive(Clone, Copy, Debug)]
pub struct Field {
    /// Name in the file, with its unit.
    pub name: &'static str,
    /// What it may hold.
    pub shape: Shape,
    /// Whether it may be left out.
    pub need: Need,
    /// What it means, one sentence.
    pub about: &'static str,
}

/// A record: its name, its meaning, its fields.
#[derive(Debug)]
pub struct Form {
    /// Name of the record in the schema.
    pub name: &'static str,
    /// What it states, one sentence.
    pub about: &'static str,
    /// Its fields in reading order.
    pub fields: &'static [Field],
}

impl PartialEq for Form {
    /// Each is declared once, under a name of its own.
    fn eq(&self, other: &Self) -> bool {
        self.name == other.name
    }
}

impl Form {
    /// The record in the words of a message: `connector type` of `ConnectorTypeRecord`.
    pub fn words(&self) -> String {
        let mut words = String::new();
        for letter in self.name.trim_end_matches("Record").chars() {
            if letter.is_uppercase() && !words.is_empty() {
                words.push(' ');
            }
            words.extend(letter.to_lowercase());
        }
        words
    }

    /// The field of this name.
    pub fn field(&self, name: &str) -> Option<&Field> {
        self.fields.iter().find(|field| field.name == name)
    }
}

impl Shape {
    /// Whether a list of these names each at most once. A path may come back to a point, and
    /// texts are the user's own.
    pub const fn is_listed_once(&self) -> bool {
        match self {
            Self::Ref(kind) => !matches!(kind, Kind::Point),
            Self::Choice(_) => true,
            _ => false,
        }
    }
}

/// A field value that may be absent, so that it is left out when written.
pub trait Absent {
    /// Whether there is nothing to write.
    fn is_absent(&self) -> bool;
}

impl<T> Absent for Option<T> {
    fn is_absent(&self) -> bool {
        self.is_none()
    }
}

impl<T> Absent for Vec<T> {
    fn is_absent(&self) -> bool {
        self.is_empty()
    }
}

impl<K, V> Absent for std::collections::BTreeMap<K, V> {
    fn is_absent(&self) -> bool {
        self.is_empty()
    }
}

/// Declares a record: its Rust type and its [`Form`] from one list of fields.
///
/// Required fields first, then optional ones (`Option`, `Vec` or `BTreeMap`), which are left
/// out of the file when absent.
macro_rules! record {
    (
        $(#[doc = $about:literal])+
        $name:ident
        required { $( #[doc = $req_about:literal] $req:ident : $req_ty:ty = $req_shape:expr; )* }
        optional { $( #[doc = $opt_about:literal] $opt:ident : $opt_ty:ty = $opt_shape:expr; )* }
    ) => {
        $(#[doc = $about])+
        #[derive(Clone, Debug, PartialEq, serde::Serialize, serde::Deserialize)]
        #[serde(deny_unknown_fields)]
        pub struct $name {
            $( #[doc = $req_about] pub $req: $req_ty, )*
            $(
                #[doc = $opt_about]
                #[serde(default, skip_serializing_if = "crate::file_format::form::Absent::is_absent")]
                pub $opt: $opt_ty,
            )*
        }

        impl $name {
            /// The fields this record may hold.
            pub const FORM: &'static crate::file_format::form::Form =
                &crate::file_format::form::Form {
                    name: stringify!($name),
                    about: concat!($($about),+),
                    fields: &[
                        $( crate::file_format::form::Field {
                            name: stringify!($req),
                            shape: $req_shape,
                            need: crate::file_format::form::Need::Required,
                            about: $req_about,
                        }, )*
                        $( crate::file_format::form::Field {
                            name: stringify!($opt),
                            shape: $opt_shape,
                            need: crate::file_format::form::Need::Optional,
                            about: $opt_about,
                        }, )*
                    ],
                };
        }
    };
}

pub(crate) use record;
