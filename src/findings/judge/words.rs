//! Numbers and short texts for people.

use super::{Number, Place, Subject};

fn is_one(subject: &Subject, place: &Place) -> bool {
    matches!(subject, Subject::Named(_)) || place.shells.len() == 1
}

pub(super) fn is_are(subject: &Subject, place: &Place) -> &'static str {
    if is_one(subject, place) { "is" } else { "are" }
}

pub(super) fn has_have(subject: &Subject, place: &Place) -> &'static str {
    if is_one(subject, place) { "has" } else { "have" }
}

pub(super) fn it(place: &Place) -> &'static str {
    if place.shells.len() == 1 { "the shell" } else { "the shells" }
}

pub(crate) fn count_of(count: usize, thing: &str) -> String {
    if count == 1 { format!("1 {thing}") } else { format!("{count} {thing}s") }
}

pub(super) fn plural_have(count: usize, thing: &str) -> String {
    format!("{} {}", count_of(count, thing), if count == 1 { "has" } else { "have" })
}

pub(super) fn count_number(count: usize, thing: &str) -> Number {
    Number { value: count as f64, unit: "count", text: count_of(count, thing) }
}

pub(crate) fn percent(share: f64) -> Number {
    let text = if share > 0.0 && share < 0.0005 {
        "under 0.1 %".into()
    } else if share < 1.0 && share > 0.9995 {
        "over 99.9 %".into()
    } else {
        format!("{:.1} %", share * 100.0)
    };
    Number { value: share, unit: "share", text }
}

/// A share with its standard error, where it was sampled.
pub(crate) fn sampled_percent(share: f64, error: Option<f64>) -> Number {
    let number = percent(share);
    match error {
        Some(error) => Number { text: format!("{} ± {:.2} %", number.text, error * 100.0), ..number },
        None => number,
    }
}

/// A share of which there may be more, where a search was cut off.
pub(crate) fn least_percent(share: f64, is_cut_off: bool) -> Number {
    let number = percent(share);
    if is_cut_off { Number { text: format!("at least {}", number.text), ..number } } else { number }
}

/// Beyond this a ratio is only reported as large.
const RATIO_SHOWN_MAX: f64 = 100.0;

pub(super) fn ratio(value: f64) -> Number {
    let text = if value > RATIO_SHOWN_MAX { ">100".to_owned() } else { format!("{value:.2}") };
    Number { value, unit: "ratio", text }
}

pub(crate) fn significant(value: f64) -> String {
    let digits = if value >= 100.0 {
        0
    } else if value >= 10.0 {
        1
    } else {
        2
    };
    format!("{value:.digits$}")
}

/// Three significant digits without trailing zeros.
pub(super) fn three(value: f64) -> String {
    let mut digits = 2;
    let mut size = value.abs();
    while size > 0.0 && size < 0.9995 && digits < 12 {
        (size, digits) = (size * 10.0, digits + 1);
    }
    while size >= 9.995 && digits > 0 {
        (size, digits) = (size / 10.0, digits - 1);
    }
    let text = format!("{value:.digits$}");
    if digits == 0 { text } else { text.trim_end_matches('0').trim_end_matches('.').to_owned() }
}

/// "0.25 of", "3.91 times".
pub(super) fn times_words(factor: f64) -> String {
    [three(factor).as_str(), if factor < 1.0 { " of" } else { " times" }].concat()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn small_and_nearly_whole_shares_are_not_rounded_away() {
        assert_eq!(percent(0.0).text, "0.0 %");
        assert_eq!(percent(1e-7).text, "under 0.1 %");
        assert_eq!(percent(0.99999).text, "over 99.9 %");
        assert_eq!(percent(0.182).text, "18.2 %");
        assert_eq!(sampled_percent(0.182, None), percent(0.182));
        assert_eq!(sampled_percent(0.182, Some(0.00123)).text, "18.2 % ± 0.12 %");
        assert_eq!(least_percent(0.182, false), percent(0.182));
        assert_eq!(least_percent(0.182, true).text, "at least 18.2 %");
    }

    #[test]
    fn factors_have_three_digits_like_the_page() {
        let texts = [0.25, 0.254, 0.012345, 0.9996, 1.0, 3.9134, 9.996, 12.34, 99.95, 1234.5].map(times_words);
        let expected = [
            "0.25 of",
            "0.254 of",
            "0.0123 of",
            "1 of",
            "1 times",
            "3.91 times",
            "10 times",
            "12.3 times",
            "100 times",
            "1234 times",
        ];
        assert_eq!(texts, expected);
        assert_eq!(three(0.0), "0");
    }

    #[test]
    fn a_ratio_beyond_100_is_not_spelt_out() {
        assert_eq!((ratio(1.254).text, ratio(100.0).text), ("1.25".into(), "100.00".into()));
        assert_eq!((ratio(159_839_739.0).text, ratio(159_839_739.0).value), (">100".into(), 159_839_739.0));
    }
}
