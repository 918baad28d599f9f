//! Tolerance on the finished length of a wire or cable.

use crate::tables::lengths::plus_tolerance;
use crate::units::{Metres, Millimetres};
use crate::working::{Worked, Working, significant};

/// How much longer than its nominal length a finished wire may be, with its working; it may
/// never be shorter.
pub fn finished_length_tolerance(nominal: Metres) -> Worked<Millimetres> {
    let plus = plus_tolerance(nominal);
    let mut working = Working::new();
    working.step(
        "tolerance of the finished length",
        "",
        format!("band of {} m", significant(nominal.value(), 4)),
        format!("+{} mm, −0 mm", significant(plus.value.value(), 4)),
        Some(&plus.source),
    );
    Worked {
        value: plus.value,
        working,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_two_metre_wire() {
        // IPC/WHMA-A-620 as published by makers: 1.5 to 3 m, +100 mm.
        let found = finished_length_tolerance(Metres::new(2.0));
        assert_eq!(found.value, Millimetres::new(100.0));
        assert_eq!(found.working.steps()[0].result, "+100 mm, −0 mm");
    }
}
