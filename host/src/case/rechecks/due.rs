//! Rechecks of the whole farm on a day, moved by what the lane saw.

use crate::arithmetic::dates::days_between;
use crate::case::before_after::compare::{courses, verdict};
use crate::case::book::{Cow, Learned, WINDOW_DAYS};
use crate::case::rechecks::recheck::{Recheck, plan};
use crate::record::case::KeptCase;
use crate::store::{PassageFilter, Store, StoreError};
use jiff::{ToSpan, civil::Date};
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Cases older than this are no longer looked at for a recheck, days (our choice).
const OPEN_DAYS: i32 = 120;
/// Days of passages read before a case.
pub const READ_DAYS: i32 = 250;

impl Store {
    /// What is to be done about every open case, as seen on a day; `cases` as they were known then.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn rechecks(&self, cases: Vec<KeptCase>, date: Date) -> Result<Vec<Recheck>, StoreError> {
        let recheck_days = self.setting("recheck_days")?.and_then(|days| days.parse().ok()).unwrap_or(35);
        let learned = self.learned()?;
        let mut open: Vec<(KeptCase, Option<Cow>)> = Vec::new();
        for mut kept in cases {
            if !(0..=OPEN_DAYS).contains(&days_between(kept.case.date, date)) || kept.withdrawn.is_some() {
                continue;
            }
            kept.follow_ups.retain(|look| look.date <= date);
            let cow = if wants_evidence(&kept, date, recheck_days) {
                let animal = &kept.case.animal;
                let from = Some(kept.case.date.saturating_sub(READ_DAYS.days()));
                let filter = PassageFilter { animal: Some(animal.clone()), from, to: Some(date) };
                Some(self.cow(animal, self.passages(&filter)?)?)
            } else {
                None
            };
            open.push((kept, cow));
        }
        Ok(open
            .par_iter()
            .flat_map_iter(|(kept, cow)| one(kept, cow.as_ref(), date, recheck_days, &learned))
            .collect())
    }
}

/// Whether what the lane saw could bring the case forward: only a foot that is not due already.
fn wants_evidence(kept: &KeptCase, date: Date, recheck_days: i32) -> bool {
    kept.case.leg.is_some() && plan(kept, date, recheck_days, None).iter().any(|r| r.date > date)
}

fn one(
    kept: &KeptCase,
    cow: Option<&Cow>,
    date: Date,
    recheck_days: i32,
    learned: &BTreeMap<String, Learned>,
) -> Vec<Recheck> {
    let answer = cow.map(|cow| {
        let question = cow.question(kept.case.date, date, WINDOW_DAYS, learned);
        let (legs, all) = courses(&question);
        verdict(&question, &legs, &all).1
    });
    plan(kept, date, recheck_days, answer.as_ref())
}
