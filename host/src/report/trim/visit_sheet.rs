//! The sheet of a visit: what was found and done that day, foot by foot, and when to look again.

use crate::case::rechecks::recheck::Recheck;
use crate::record::AnimalId;
use crate::record::case::withdrawal::{Withdrawal, open};
use crate::record::case::{Case, FollowUp};
use crate::record::names::Names;
use crate::report::list::text::withdrawals;
use crate::report::style::{STRONG, paint};
use crate::report::text::{render, table, wrap};
use crate::report::trim::case_line::{done, foot, found, seen};
use crate::report::words::Words;
use crate::store::{Store, StoreError};
use jiff::civil::Date;
use serde::Serialize;
use serde_json::json;
use shared::plate::Leg;
use std::fmt::Write;

/// What stands over its columns.
pub const COLUMNS: [&str; 5] = ["visit-cow", "visit-foot", "visit-found", "visit-done", "visit-next"];

/// One foot of the sheet.
#[derive(Clone, Debug, Serialize)]
pub struct SheetRow {
    /// The case.
    pub case: i64,
    /// The cow.
    pub animal_id: String,
    /// Her number; may be empty.
    pub number: String,
    /// Her name; may be empty.
    pub name: String,
    /// LF, RF, LR, RR; empty for all feet.
    pub leg: &'static str,
    /// outer, inner, both, or empty.
    pub claw: String,
    /// Code or own words; empty where there is none.
    pub lesion: String,
    /// What was done, as the field `treatment`; empty for a later look.
    pub treatment: String,
    /// outer, inner, or empty.
    pub block_claw: String,
    /// healed, improving, same, worse at a later look; else empty.
    pub course: &'static str,
    /// The next day something is to be done at that foot.
    pub next_look: Option<Date>,
    /// Last day of milk withdrawal, as entered.
    pub milk_withdrawal_end: Option<Date>,
    /// Last day of meat withdrawal, as entered.
    pub meat_withdrawal_end: Option<Date>,
    /// A veterinarian is to see it.
    pub for_the_veterinarian: bool,
    /// Foot, finding and work in words, made from the case.
    #[serde(skip)]
    words: Told,
}

/// The case or the look behind a row.
#[derive(Clone, Debug)]
enum Told {
    Work(Box<Case>),
    Look(Box<Case>, FollowUp),
}

/// The sheet.
#[derive(Clone, Debug, Serialize)]
pub struct Sheet {
    /// The day.
    pub date: Date,
    /// The farm's name; may be empty.
    pub farm: String,
    /// Who worked, as entered.
    pub who: Vec<String>,
    /// Withdrawals that are not over.
    pub withdrawals: Vec<Withdrawal>,
    /// The feet, in the order entered.
    pub rows: Vec<SheetRow>,
    #[serde(skip)]
    names: Names,
}

impl Sheet {
    /// The sheet of a day, from what is kept.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn of(store: &Store, date: Date) -> Result<Self, StoreError> {
        let cases = store.cases_known_on(date)?;
        let names = store.names()?;
        let withdrawals = open(&cases, date);
        let due = store.rechecks(cases, date)?;
        let (mut rows, mut who) = (Vec::new(), Vec::new());
        let mut cases = store.cases(None)?;
        cases.retain(|kept| kept.withdrawn.is_none());
        cases.sort_by_key(|kept| kept.id);
        for kept in &cases {
            if kept.case.date == date {
                who.extend(kept.case.who.clone());
                rows.push(SheetRow::of(kept.id, Told::Work(Box::new(kept.case.clone())), &names, &due));
            }
            for look in kept.follow_ups.iter().filter(|look| look.date == date) {
                who.extend(look.who.clone());
                let told = Told::Look(Box::new(kept.case.clone()), look.clone());
                rows.push(SheetRow::of(kept.id, told, &names, &due));
            }
        }
        who.sort();
        who.dedup();
        let farm = store.setting("name")?.unwrap_or_default();
        Ok(Self { date, farm, who, withdrawals, rows, names })
    }

    /// What stands over it.
    #[must_use]
    pub fn title(&self, words: &Words) -> String {
        let some = |text: &str| Some(text.to_owned()).filter(|text| !text.is_empty());
        let (farm, who) = (some(&self.farm), some(&self.who.join(", ")));
        words.say("visit-title", json!({ "date": self.date, "farm": farm, "who": who }))
    }

    /// Its lines in words, under [`COLUMNS`].
    pub fn lines<'a>(&'a self, words: &'a Words) -> impl Iterator<Item = [String; 5]> + 'a {
        self.rows.iter().map(|row| {
            let cow = format!("{} {}", row.number, row.name);
            let cow = if cow.trim().is_empty() { row.animal_id.clone() } else { cow.trim().to_owned() };
            let (foot, found, done) = match &row.words {
                Told::Work(case) => (foot(case, words), found(case, words), done(case, words)),
                Told::Look(case, look) => (foot(case, words), found(case, words), seen(look, words)),
            };
            let next = row.next_look.map_or_else(String::new, |day| words.day(day));
            [cow, foot, found, done, next]
        })
    }

    /// The feet that a veterinarian is to see, in words.
    #[must_use]
    pub fn for_the_veterinarian(&self, words: &Words) -> Vec<String> {
        let said = |row: &SheetRow| {
            let animal = self.names.short(&AnimalId(row.animal_id.clone()));
            for_the_veterinarian(row.case, &animal, row.leg, words)
        };
        self.rows.iter().filter(|row| row.for_the_veterinarian).map(said).collect()
    }

    /// The sheet as printed: 80 columns.
    #[must_use]
    pub fn text(&self, words: &Words) -> String {
        let mut out = String::new();
        let _ = writeln!(out, "{}", paint(STRONG, self.title(words)));
        withdrawals(&mut out, &self.withdrawals, &self.names, words);
        if self.rows.is_empty() {
            let _ = writeln!(out, "\n{}", words.text("visit-nothing"));
            return out;
        }
        let header = COLUMNS.map(|id| words.text(id));
        let mut lines = table(&header.each_ref().map(String::as_str));
        for line in self.lines(words) {
            lines.add_row(line);
        }
        let _ = write!(out, "\n{}", render(&lines));
        for said in self.for_the_veterinarian(words) {
            let _ = writeln!(out, "{}", wrap(&said, 2));
        }
        let _ = writeln!(out, "\n{}", wrap(&words.text("caution-crush"), 0));
        out
    }
}

/// That a veterinarian is to see a foot.
#[must_use]
pub fn for_the_veterinarian(case: i64, animal: &str, leg: &str, words: &Words) -> String {
    let values = json!({ "case": case, "animal": animal, "place": words.letters_of(leg) });
    words.say("visit-veterinarian", values)
}

impl SheetRow {
    fn of(id: i64, told: Told, names: &Names, due: &[Recheck]) -> Self {
        let (Told::Work(case) | Told::Look(case, _)) = &told;
        let look = match &told {
            Told::Look(_, look) => Some(look),
            Told::Work(_) => None,
        };
        let called = names.of(&case.animal);
        Self {
            case: id,
            animal_id: case.animal.0.clone(),
            number: called.number,
            name: called.name,
            leg: case.leg.map_or("", Leg::name),
            claw: case.field("claw"),
            lesion: case.field("lesion"),
            treatment: if look.is_some() { String::new() } else { case.field("treatment") },
            block_claw: case.field("block_claw"),
            course: look.and_then(|look| look.course).map_or("", |course| course.name()),
            next_look: due.iter().filter(|recheck| recheck.case == id).map(|recheck| recheck.date).min(),
            milk_withdrawal_end: case.medicine.milk_withdrawal_end,
            meat_withdrawal_end: case.medicine.meat_withdrawal_end,
            for_the_veterinarian: look.is_none() && case.for_the_veterinarian(),
            words: told,
        }
    }
}
