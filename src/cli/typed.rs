//! Numbers and days as people type them.

use jiff::civil::Date;

/// A number; many write a comma for the decimal point.
///
/// # Errors
/// When it is none: a sentence on how to write one.
pub(super) fn number(text: &str) -> Result<f64, String> {
    text.trim().replace(',', ".").parse().map_err(|_| "write one number, such as 1.05".to_owned())
}

/// A day.
///
/// # Errors
/// When it is none: a sentence on how to write one.
pub(super) fn day(text: &str) -> Result<Date, String> {
    text.trim().parse().map_err(|_| "write the day as year-month-day, such as 2026-11-29".to_owned())
}

#[cfg(test)]
mod tests {
    use super::{day, number};

    #[test]
    fn a_comma_is_a_decimal_point_and_nothing_else() {
        assert_eq!((number("1,05"), number(" 0.42 "), number("-3")), (Ok(1.05), Ok(0.42), Ok(-3.0)));
        assert!(number("1,234.5").is_err() && number("ten").is_err());
    }

    #[test]
    fn a_day_has_its_year_first() {
        assert!(day("2026-11-29").is_ok());
        assert!(day("29.11.2026").unwrap_err().contains("2026-11-29"));
    }
}
