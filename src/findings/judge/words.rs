//! Numbers and small words as a person reads them.

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

pub(super) fn singular_s(subject: &Subject, place: &Place) -> &'static str {
    if is_one(subject, place) { "s" } else { "" }
}

pub(super) fn it(place: &Place) -> &'static str {
    if place.shells.len() == 1 { "the shell" } else { "the shells" }
}

pub(in crate::findings) fn count_of(count: usize, thing: &str) -> String {
    if count == 1 { format!("1 {thing}") } else { format!("{count} {thing}s") }
}

pub(super) fn plural_have(count: usize, thing: &str) -> String {
    format!("{} {}", count_of(count, thing), if count == 1 { "has" } else { "have" })
}

pub(super) fn count_number(count: usize, thing: &str) -> Number {
    Number { value: count as f64, unit: "count", text: count_of(count, thing) }
}

pub(in crate::findings) fn percent(share: f64) -> Number {
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
pub(in crate::findings) fn sampled_percent(share: f64, error: Option<f64>) -> Number {
    let number = percent(share);
    match error {
        Some(error) => Number { text: format!("{} ± {:.2} %", number.text, error * 100.0), ..number },
        None => number,
    }
}

/// A share of which there may be more, where a search was cut off.
pub(in crate::findings) fn least_percent(share: f64, is_cut_off: bool) -> Number {
    let number = percent(share);
    if is_cut_off { Number { text: format!("at least {}", number.text), ..number } } else { number }
}

pub(super) fn ratio(value: f64) -> Number {
    Number { value, unit: "ratio", text: format!("{value:.2}") }
}

pub(in crate::findings) fn significant(value: f64) -> String {
    let digits = if value >= 100.0 {
        0
    } else if value >= 10.0 {
        1
    } else {
        2
    };
    format!("{value:.digits$}")
}

pub(super) fn times_words(factor: f64) -> String {
    let near = |value: f64| (factor / value - 1.0).abs() < 0.04;
    match () {
        () if near(0.25) => "a quarter of".into(),
        () if near(1.0 / 3.0) => "a third of".into(),
        () if near(0.5) => "half".into(),
        () if near(2.0) => "twice".into(),
        () if factor < 1.0 => format!("only {:.0} % of", factor * 100.0),
        () => format!("{factor:.1} times"),
    }
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
}
