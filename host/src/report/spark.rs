//! A small trend in one line of text.

const BLOCKS: [char; 8] = ['▁', '▂', '▃', '▄', '▅', '▆', '▇', '█'];
const DIGITS: [char; 8] = ['1', '2', '3', '4', '5', '6', '7', '8'];
/// Smallest range drawn over the full height, in the unit of the values, so that noise stays flat: our choice.
pub const SMALLEST_RANGE: f64 = 4.0;

/// The values as blocks (or digits where the terminal is not UTF-8), low to high; a missing one is a dot.
#[must_use]
pub fn line(values: &[Option<f64>], utf8: bool) -> String {
    line_over(values, SMALLEST_RANGE, utf8)
}

/// The same with a range of one's own, so that several lines can be compared.
#[must_use]
pub fn line_over(values: &[Option<f64>], smallest_range: f64, utf8: bool) -> String {
    let known = || values.iter().flatten().copied();
    let (low, high) = known().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(v), h.max(v)));
    let spare = (smallest_range - (high - low)).max(0.0) / 2.0;
    let (low, high) = (low - spare, high + spare);
    let marks = if utf8 { BLOCKS } else { DIGITS };
    values
        .iter()
        .map(|value| match value {
            Some(value) => {
                let step = (value - low) / (high - low) * marks.len() as f64;
                marks[(step as usize).min(marks.len() - 1)]
            }
            None if utf8 => '·',
            None => '.',
        })
        .collect()
}

/// Highest less lowest value; 0 without values.
#[must_use]
pub fn range(values: &[Option<f64>]) -> f64 {
    let known = || values.iter().flatten().copied();
    (known().fold(f64::NEG_INFINITY, f64::max) - known().fold(f64::INFINITY, f64::min)).max(0.0)
}

/// Whether the terminal's locale is UTF-8, after `LC_ALL`, `LC_CTYPE`, `LANG`; with none set, it is taken to be.
#[must_use]
pub fn locale_is_utf8(variable: impl Fn(&str) -> Option<String>) -> bool {
    ["LC_ALL", "LC_CTYPE", "LANG"]
        .into_iter()
        .filter_map(variable)
        .find(|value| !value.is_empty())
        .is_none_or(|value| value.to_ascii_lowercase().replace('-', "").contains("utf8"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn low_is_low_and_missing_is_a_dot() {
        let values = [Some(25.0), Some(21.0), None, Some(17.0)];
        assert_eq!(line(&values, true), "█▅·▁");
        assert_eq!(line(&values, false), "85.1");
    }

    #[test]
    fn noise_stays_flat() {
        assert_eq!(line(&[Some(24.9), Some(25.1)], true), "▄▅");
        assert_eq!(line(&[Some(25.0)], true), "▅");
        assert_eq!(line(&[None], true), "·");
    }

    #[test]
    fn locales() {
        let set = |name: &'static str, value: &'static str| {
            move |asked: &str| (asked == name).then(|| value.to_owned())
        };
        assert!(locale_is_utf8(set("LANG", "en_GB.UTF-8")));
        assert!(locale_is_utf8(set("LC_ALL", "C.utf8")));
        assert!(!locale_is_utf8(set("LC_ALL", "C")));
        assert!(locale_is_utf8(|_| None));
    }
}
