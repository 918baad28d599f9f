//! Whole numbers with their thousands apart.

use std::fmt::Display;

/// A whole number, written in digits, with thin gaps between thousands: 12 441 600.
pub fn grouped(number: impl Display) -> String {
    let digits = number.to_string();
    let mut grouped = String::new();
    for (number, digit) in digits.chars().enumerate() {
        if number > 0 && (digits.len() - number).is_multiple_of(3) {
            grouped.push('\u{202f}');
        }
        grouped.push(digit);
    }
    grouped
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn thousands_are_told_apart() {
        assert_eq!(grouped("12441600"), "12\u{202f}441\u{202f}600");
        assert_eq!(
            (grouped(7), grouped(123)),
            ("7".to_owned(), "123".to_owned())
        );
    }
}
