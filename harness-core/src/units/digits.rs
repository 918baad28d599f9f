//! Numbers to so many digits.

/// A number to a count of significant digits, without exponent and without trailing zeros:
/// 6270.83 to 4 is `6271`, 0.0123456 to 3 is `0.0123`.
pub fn significant(value: f64, digits: usize) -> String {
    let digits = digits.max(1);
    let scientific = format!("{value:.*e}", digits - 1);
    let Some(exponent) = scientific
        .split_once('e')
        .and_then(|(_, exponent)| exponent.parse::<i32>().ok())
    else {
        return scientific; // NaN or infinity: printed as it is
    };
    let decimals = i32::try_from(digits).unwrap_or(17) - 1 - exponent;
    let decimals = usize::try_from(decimals).unwrap_or(0);
    let plain = format!("{value:.decimals$}");
    if plain.contains('.') {
        plain.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        plain
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn significant_digits_are_rounded_and_bare() {
        for (value, digits, text) in [
            (6270.83, 4, "6271"),
            (0.012_345_6, 3, "0.0123"),
            (0.3600, 4, "0.36"),
            (9.9999, 3, "10"),
            (0.0, 4, "0"),
            (-2.5, 2, "-2.5"),
            (211_600.0, 4, "211600"),
        ] {
            assert_eq!(significant(value, digits), text, "{value} to {digits}");
        }
    }
}
