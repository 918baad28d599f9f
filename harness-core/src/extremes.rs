//! The greater and the lesser of two numbers that are not NaN, in one step of the processor;
//! [`f64::max`] takes several to tell NaN apart.

pub(crate) fn greater(one: f64, other: f64) -> f64 {
    if one > other { one } else { other }
}

pub(crate) fn lesser(one: f64, other: f64) -> f64 {
    if one < other { one } else { other }
}
