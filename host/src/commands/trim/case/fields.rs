//! The fields of a case as options: each has the name that files and the store use.

use crate::record::case::Case;
use crate::record::case::field::FieldError;
use crate::record::day_words::{DayOrder, Direction, day};
use clap::{Arg, ArgAction, ArgMatches, Command};
use jiff::civil::Date;

/// Name, what its value is, and help of every field that is an option; treatments are flags of their own, and the
/// cow, leg, claw and lesion are words of the line.
pub const OPTIONS: [(&str, &str, &str); 18] = [
    ("date", "DATE", "Day of the work (default: today)"),
    ("zone", "ZONE", "Zone of the foot map, 0 to 12"),
    ("dd_stage", "STAGE", "Stage of digital dermatitis: M0, M1, M2, M3, M4 or M4.1"),
    ("severity", "1|2|3", "How bad, on fourplate's own scale: 1 mild, 2 moderate, 3 severe"),
    ("other", "WORDS", "Anything else that was done"),
    ("block_claw", "CLAW", "Block put under this claw: outer or inner"),
    ("block_material", "WORDS", "What the block is made of"),
    ("block_height_mm", "MM", "Height of the block, mm"),
    ("block_due", "DATE", "Day the block is to come off"),
    ("block_off", "DATE", "First day without the block, where it is off already"),
    ("pain_relief", "yes|no", "Whether pain relief was given"),
    ("prescribed_by", "WHO", "Who prescribed it"),
    ("milk_withdrawal_end", "DATE", "Last day of milk withdrawal, from the label or the veterinarian"),
    ("meat_withdrawal_end", "DATE", "Last day of meat withdrawal, from the label or the veterinarian"),
    ("note", "WORDS", "Anything worth remembering"),
    ("photo", "PLACE", "Where the photo is"),
    ("recheck", "DATE", "Day of the planned recheck (default: the farm's setting)"),
    ("who", "NAME", "Who did the work"),
];

/// The fields given as options, by name.
#[derive(Clone, Debug, Default)]
pub struct Fields(Vec<(&'static str, String)>);

impl clap::Args for Fields {
    fn augment_args(command: Command) -> Command {
        OPTIONS.into_iter().fold(command, |command, (name, value, help)| {
            let option = Arg::new(name).long(name.replace('_', "-")).value_name(value).help(help);
            command.arg(option.action(ArgAction::Set))
        })
    }

    fn augment_args_for_update(command: Command) -> Command {
        Self::augment_args(command)
    }
}

impl clap::FromArgMatches for Fields {
    fn from_arg_matches(matches: &ArgMatches) -> Result<Self, clap::Error> {
        let given = |(name, _, _)| matches.get_one::<String>(name).map(|value| (name, value.clone()));
        Ok(Self(OPTIONS.into_iter().filter_map(given).collect()))
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
    let side = match name {
        "date" | "block_off" => Direction::Past,
        "block_due" | "recheck" | "milk_withdrawal_end" | "meat_withdrawal_end" => Direction::Ahead,
        _ => return value.to_owned(),
    };
    day(value, today, side, order).map_or_else(|_| value.to_owned(), |day| day.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::case::field::NAMES;
    use std::collections::BTreeSet;

    #[test]
    fn every_field_of_a_case_has_its_place_on_the_command_line() {
        let line = ["animal_id", "leg", "claw", "lesion", "treatment"];
        let given: BTreeSet<&str> = OPTIONS.iter().map(|option| option.0).chain(line).collect();
        assert_eq!(given, BTreeSet::from(NAMES));
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
