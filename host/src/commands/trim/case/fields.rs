//! The fields of a case as options: each has the name that files and the store use.

use crate::record::case::Case;
use crate::record::case::field::{CaseField, FIELDS, FieldError};
use crate::record::day_words::{DayOrder, day};
use clap::{Arg, ArgAction, ArgMatches, Command};
use jiff::civil::Date;

/// The fields given as options, by name.
#[derive(Clone, Debug, Default)]
pub struct Fields(Vec<(&'static str, String)>);

impl clap::Args for Fields {
    fn augment_args(command: Command) -> Command {
        FIELDS.iter().fold(command, |command, field| match field.option {
            Some((value, help)) => {
                let option = Arg::new(field.name).long(field.name.replace('_', "-"));
                command.arg(option.value_name(value).help(help).action(ArgAction::Set))
            }
            None => command,
        })
    }

    fn augment_args_for_update(command: Command) -> Command {
        Self::augment_args(command)
    }
}

impl clap::FromArgMatches for Fields {
    fn from_arg_matches(matches: &ArgMatches) -> Result<Self, clap::Error> {
        let given = |field: &CaseField| {
            field.option?;
            matches.get_one::<String>(field.name).map(|value| (field.name, value.clone()))
        };
        Ok(Self(FIELDS.iter().filter_map(given).collect()))
    }

    fn update_from_arg_matches(&mut self, matches: &ArgMatches) -> Result<(), clap::Error> {
        *self = Self::from_arg_matches(matches)?;
        Ok(())
    }
}

impl Fields {
    /// Whether a field was given.
    pub fn has(&self, name: &str) -> bool {
        self.0.iter().any(|(given, _)| *given == name)
    }

    /// Puts them into the case.
    ///
    /// # Errors
    /// A value that does not fit its field.
    pub fn put(&self, case: &mut Case, today: Date, order: Option<DayOrder>) -> Result<(), FieldError> {
        self.0.iter().try_for_each(|(name, value)| case.set_field(name, &written(name, value, today, order)))
    }
}

/// A value as the field takes it: days said in words become dates, others stay.
pub fn written(name: &str, value: &str, today: Date, order: Option<DayOrder>) -> String {
    let side = FIELDS.iter().find(|field| field.name == name).and_then(|field| field.day);
    side.and_then(|side| day(value, today, side, order).ok())
        .map_or_else(|| value.to_owned(), |day| day.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_field_but_the_words_of_the_line_is_an_option() {
        let words: Vec<&str> =
            FIELDS.iter().filter(|field| field.option.is_none()).map(|field| field.name).collect();
        assert_eq!(words, ["animal_id", "leg", "claw", "lesion", "treatment"]);
    }

    #[test]
    fn days_in_words_become_dates_where_a_date_is_meant() {
        let today = jiff::civil::date(2026, 3, 5);
        assert_eq!(written("date", "yesterday", today, None), "2026-03-04");
        assert_eq!(written("date", "monday", today, None), "2026-03-02");
        assert_eq!(written("recheck", "monday", today, None), "2026-03-09");
        assert_eq!(written("note", "yesterday", today, None), "yesterday");
        assert_eq!(
            written("date", "03/04/2026", today, None),
            "03/04/2026",
            "the field then says what is wrong"
        );
    }
}
