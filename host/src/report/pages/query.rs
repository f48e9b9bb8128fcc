//! What an address or a form says.

use jiff::civil::Date;
use percent_encoding::percent_decode_str;

/// The day that an address asks for.
#[must_use]
pub fn date_of(url: &str) -> Option<Date> {
    query_value(url.split_once('?')?.1, "date")?.parse().ok()
}

/// A value of a query, decoded.
#[must_use]
pub fn query_value(query: &str, name: &str) -> Option<String> {
    query_values(query, name).next()
}

/// Every value of a name in a query or a form, decoded.
pub fn query_values<'a>(query: &'a str, name: &'a str) -> impl Iterator<Item = String> + 'a {
    pairs(query).filter(move |(key, _)| *key == name).map(|(_, value)| value)
}

/// Every name in a query or a form, as it stands, with its value, decoded.
pub(super) fn pairs(query: &str) -> impl Iterator<Item = (&str, String)> {
    query.split('&').filter_map(|pair| {
        let (key, value) = pair.split_once('=')?;
        let value = value.replace('+', " ");
        Some((key, percent_decode_str(&value).decode_utf8_lossy().into_owned()))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_are_decoded_by_name() {
        let form = "leg=LR&note=a+b%2C+c%26d&treatment=trim&treatment=drained&x";
        assert_eq!(query_value(form, "note").as_deref(), Some("a b, c&d"));
        assert_eq!(query_values(form, "treatment").collect::<Vec<_>>(), ["trim", "drained"]);
        assert_eq!((query_value(form, "x"), query_value(form, "le")), (None, None));
        assert_eq!(date_of("/?date=2026-03-05"), Some(jiff::civil::date(2026, 3, 5)));
        assert_eq!((date_of("/?date=soon"), date_of("/date=2026-03-05")), (None, None));
    }
}
