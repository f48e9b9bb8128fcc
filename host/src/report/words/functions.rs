//! What a message can do with a number or a day: `NUM`, `SIGNED`, `LESS_MORE`, `THAN_USUAL`, `PERCENT`, `DAY`, `LONG_DAY`.

use fluent_bundle::concurrent::FluentBundle;
use fluent_bundle::types::{FluentNumber, FluentNumberOptions};
use fluent_bundle::{FluentArgs, FluentResource, FluentValue};
use jiff::civil::Date;
use std::sync::Arc;

/// The words that the functions need, from the catalogue itself.
#[derive(Clone)]
pub(super) struct Forms {
    months: Vec<String>,
    weekdays: Vec<String>,
    day: String,
    long_day: String,
    less: String,
    more: String,
    same: String,
    than_usual: String,
    as_usual: String,
    under: String,
    over: String,
    german: bool,
}

impl Forms {
    pub(super) fn read(text: impl Fn(&str) -> String) -> Self {
        let names = |id| text(id).split_whitespace().map(ToOwned::to_owned).collect();
        Self {
            months: names("months"),
            weekdays: names("weekdays"),
            day: text("form-day"),
            long_day: text("form-long_day"),
            less: text("form-less"),
            more: text("form-more"),
            same: text("form-same"),
            than_usual: text("form-than_usual"),
            as_usual: text("form-as_usual"),
            under: text("form-under"),
            over: text("form-over"),
            german: text("form-decimal") == ",",
        }
    }

    fn number(&self, value: f64, digits: usize) -> String {
        number(value, digits, if self.german { (',', '.') } else { ('.', ',') })
    }

    /// `12 % less`; `None` for what rounds to nothing.
    fn less_more(&self, value: f64, digits: usize) -> Option<String> {
        let text = self.number(value.abs(), digits);
        let word = if value < 0.0 { &self.less } else { &self.more };
        is_something(&text).then(|| format!("{text} % {word}"))
    }

    /// `D`, `M`, `W` and `Y` of the form stand for day, month, weekday and year.
    fn date(&self, form: &str, date: Date) -> String {
        let mut text = String::new();
        for letter in form.chars() {
            match letter {
                'D' => text.push_str(&date.day().to_string()),
                'M' => text.push_str(&self.months[usize::from(date.month().unsigned_abs()) - 1]),
                'W' => {
                    text.push_str(
                        &self.weekdays[date.weekday().to_monday_zero_offset().unsigned_abs() as usize],
                    );
                }
                'Y' => text.push_str(&date.year().to_string()),
                other => text.push(other),
            }
        }
        text
    }
}

/// A number with that many decimals, thousands grouped, and never a minus before zeros alone.
fn number(value: f64, digits: usize, (point, group): (char, char)) -> String {
    if !value.is_finite() {
        return "–".to_owned();
    }
    let plain = format!("{:.digits$}", value.abs());
    let (whole, part) = plain.split_once('.').unwrap_or((&plain, ""));
    let mut text = String::new();
    if value < 0.0 && is_something(&plain) {
        text.push('-');
    }
    for (index, digit) in whole.chars().enumerate() {
        if index > 0 && (whole.len() - index).is_multiple_of(3) {
            text.push(group);
        }
        text.push(digit);
    }
    if !part.is_empty() {
        text.push(point);
        text.push_str(part);
    }
    text
}

/// Whether a written number is not zero.
fn is_something(number: &str) -> bool {
    number.bytes().any(|digit| matches!(digit, b'1'..=b'9'))
}

fn formatted(value: &FluentValue<'_>, marks: (char, char)) -> Option<String> {
    let FluentValue::Number(of) = value else { return None };
    let digits = of.options.minimum_fraction_digits.unwrap_or(usize::from(of.value.fract() != 0.0));
    Some(number(of.value, digits, marks))
}

/// Numbers as in English.
pub(super) fn english_number<M>(value: &FluentValue<'_>, _: &M) -> Option<String> {
    formatted(value, ('.', ','))
}

/// Numbers as in German.
pub(super) fn german_number<M>(value: &FluentValue<'_>, _: &M) -> Option<String> {
    formatted(value, (',', '.'))
}

fn value_of(positional: &[FluentValue<'_>]) -> Option<f64> {
    match positional.first() {
        Some(FluentValue::Number(number)) => Some(number.value),
        _ => None,
    }
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a float cast saturates")]
fn digits_of(named: &FluentArgs<'_>) -> usize {
    match named.get("digits") {
        Some(FluentValue::Number(number)) => number.value as usize,
        _ => 0,
    }
}

fn date_of(positional: &[FluentValue<'_>]) -> Option<Date> {
    match positional.first() {
        Some(FluentValue::String(text)) => text.parse().ok(),
        _ => None,
    }
}

/// Gives the functions to a catalogue.
pub(super) fn add(bundle: &mut FluentBundle<FluentResource>, forms: &Forms) {
    let forms = Arc::new(forms.clone());
    let put = |bundle: &mut FluentBundle<FluentResource>,
               name: &str,
               function: fn(&Forms, &[FluentValue<'_>], usize) -> Option<String>| {
        let forms = Arc::clone(&forms);
        bundle
            .add_function(name, move |positional, named| {
                function(&forms, positional, digits_of(named)).map_or(FluentValue::Error, |text| text.into())
            })
            .unwrap_or_else(|error| panic!("{name}: {error}"));
    };
    put(bundle, "SIGNED", |forms, of, digits| {
        let value = value_of(of)?;
        let text = forms.number(value, digits);
        Some(if value > 0.0 && is_something(&text) { format!("+{text}") } else { text })
    });
    put(bundle, "ABS", |forms, of, digits| Some(forms.number(value_of(of)?.abs(), digits)));
    put(bundle, "LESS_MORE", |forms, of, digits| {
        let value = value_of(of)?;
        Some(forms.less_more(value, digits).unwrap_or_else(|| forms.same.clone()))
    });
    put(bundle, "THAN_USUAL", |forms, of, digits| {
        let change = forms.less_more(value_of(of)?, digits);
        Some(change.map_or_else(|| forms.as_usual.clone(), |change| format!("{change} {}", forms.than_usual)))
    });
    put(bundle, "PERCENT", |forms, of, _| {
        Some(match (100.0 * value_of(of)?).round() {
            low if low < 1.0 => forms.under.clone(),
            high if high > 99.0 => forms.over.clone(),
            middle => format!("{middle:.0} %"),
        })
    });
    put(bundle, "DAY", |forms, of, _| Some(forms.date(&forms.day, date_of(of)?)));
    put(bundle, "LONG_DAY", |forms, of, _| Some(forms.date(&forms.long_day, date_of(of)?)));
    bundle
        .add_function("NUM", |positional, named| match positional.first() {
            Some(FluentValue::Number(number)) => FluentValue::Number(FluentNumber::new(
                number.value,
                FluentNumberOptions {
                    minimum_fraction_digits: Some(digits_of(named)),
                    ..number.options.clone()
                },
            )),
            _ => FluentValue::Error,
        })
        .unwrap_or_else(|error| panic!("NUM: {error}"));
}
