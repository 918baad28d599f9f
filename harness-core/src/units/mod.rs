//! Physical quantities as types, wire sizes, and the bounds of every number a user may state.
//!
//! SI inside: volt, ampere, ohm, watt, metre; small lengths millimetre, areas mm².
//! A bare number in a file, column or JSON field carries its unit in its name
//! (`_v _a _w _ohm _m _mm _mm2 _degc`); inside the core the type carries it.

mod quantity;
mod wire_size;
mod digits;
mod customary;
pub mod bounds;

pub use customary::{Stated, UnitSystem};
pub use digits::significant;
pub use quantity::{
    Amperes, Celsius, CircularMils, Kilograms, Metres, Millimetres, Ohms, SquareMillimetres, Volts,
    Watts,
};
pub use wire_size::{ParseWireSizeError, SizeSeries, WireSize};
