//! Follows every case of a farm through its passages: outcomes, changes, and what they teach.

use crate::arithmetic::dates::days_between;
use crate::case::before_after::kalman::{CasePhase, filter, state};
use crate::case::before_after::model::{Fit, Normal, Prior};
use crate::case::before_after::series::series;
use crate::case::book::{CowBook, lesson};
use crate::case::outcomes::group;
use crate::case::outcomes::outcome::Outcome;
use crate::record::case::block;
use crate::record::case::{BlockSeen, KeptCase};
use crate::record::{CowDay, Flag};
use jiff::{ToSpan, civil::Date};
use shared::plate::Leg;
use std::collections::BTreeMap;

/// Windows that outcomes are told from, days before and after (our choice: six weeks and two more to stay normal).
const WINDOW: (i32, i32) = (60, 56);
/// Passages in a row that make her back to normal (our choice).
const IN_A_ROW: usize = 3;
/// A new lesion on the same leg within this time of being back is a relapse, days (our choice).
const RELAPSE_DAYS: i32 = 90;

/// What one case gives.
#[derive(Clone, Debug)]
pub struct Followed {
    /// How it went.
    pub outcome: Outcome,
    /// Change of the treated leg's load, % of usual, where it could be measured.
    pub change: Option<Normal>,
    /// Effect of the block, where it could be told.
    pub block: Option<Normal>,
    /// Half-time of recovery, days.
    pub half_time: Option<f64>,
    /// The lesion.
    pub lesion: Option<String>,
}

/// Follows a case up to a day, with the rows of the day table that are hers. `None` for a case that was withdrawn or
/// names no leg.
#[must_use]
pub fn follow(cow: &CowBook, kept: &KeptCase, rows: &[CowDay], until: Date) -> Option<Followed> {
    let leg = kept.case.leg.filter(|_| kept.withdrawn.is_none())?;
    let at = kept.case.date;
    let last = until.min(at.saturating_add(WINDOW.1.days()));
    let question = cow.question(at, last, WINDOW, &BTreeMap::new());
    let series = &series(question.passages, &question.plan)[leg];
    let observations = &series.observations;
    let mut outcome = Outcome { groups: groups(kept), block: block_time(kept, until), ..Outcome::default() };
    let watched =
        observations.iter().filter(|o| o.phase == CasePhase::After).map(|o| o.day.floor() as i32).max();
    outcome.watched = watched.unwrap_or(0);
    let person =
        cow.scores.iter().filter(|s| s.score >= 2 && s.date <= at && days_between(s.date, at) <= WINDOW.0);
    outcome.first.1 = person.map(|s| s.date).min().or(Some(at));
    outcome.first.0 = first_flag(rows, leg, at);
    let mut change = None;
    if let Some(fit) = Fit::new(observations, &Prior::default()) {
        let range = series.normal_range;
        outcome.measured = fit.at_treatment().below(-range) > 0.5;
        change = Some(fit.change());
        let mut days: Vec<(i32, CasePhase, f64, bool)> = Vec::new();
        filter(observations, &fit.best(), |index, belief, _| {
            let (mean, variance) = belief.sum(&[(state::DEVIATION, 1.0)]);
            let low = Normal { mean, sd: variance.sqrt() }.below(-range);
            let o = &observations[index];
            days.push((o.day.floor() as i32, o.phase, low, o.block != 0.0));
        });
        // With a block on she is not back to normal, however she stands.
        let normal = |d: &(i32, CasePhase, f64, bool)| d.1 == CasePhase::After && d.2 < 0.5 && !d.3;
        let back = days.windows(IN_A_ROW).find(|w| w.iter().all(normal)).map(|w| w[0].0);
        outcome.normal_after = back.filter(|_| outcome.measured);
        outcome.relapse = back.and_then(|back| relapse(cow, leg, at.saturating_add(back.days())));
    }
    let (block, half_time) = lesson(&question, leg);
    let lesion = kept.case.lesion.as_ref().map(|l| l.as_str().to_owned());
    Some(Followed { outcome, change, block, half_time, lesion })
}

/// The first day on which the lane told a person to check this leg, not longer before the case than its window.
fn first_flag(rows: &[CowDay], leg: Leg, at: Date) -> Option<Date> {
    rows.iter()
        .filter(|row| row.date <= at && days_between(row.date, at) <= WINDOW.0)
        .find(|row| row.flag >= Flag::Check && row.place.is_some_and(|place| place.holds(leg)))
        .map(|row| row.date)
}

fn relapse(cow: &CowBook, leg: Leg, back: Date) -> Option<i32> {
    cow.cases
        .iter()
        .filter(|c| c.withdrawn.is_none() && c.case.leg == Some(leg) && c.case.lesion.is_some())
        .map(|c| days_between(back, c.case.date))
        .find(|days| (1..=RELAPSE_DAYS).contains(days))
}

fn block_time(kept: &KeptCase, until: Date) -> Option<(i32, bool)> {
    kept.case.treatment.block.as_ref()?;
    let lost = kept.follow_ups.iter().find(|f| f.block == Some(BlockSeen::Lost)).map(|f| f.date);
    let end =
        lost.or_else(|| block::known_off(kept).or_else(|| block::due(kept))).unwrap_or(until).min(until);
    Some((days_between(kept.case.date, end).max(1), lost.is_some()))
}

/// What a case is counted under.
#[must_use]
pub fn groups(kept: &KeptCase) -> BTreeMap<&'static str, String> {
    let case = &kept.case;
    let named = |name: &str| Some(case.field(name)).filter(|text| !text.is_empty());
    let season = match case.date.month() {
        3..=5 => "March to May",
        6..=8 => "June to August",
        9..=11 => "September to November",
        _ => "December to February",
    };
    [
        ("lesion", named("lesion")),
        ("leg", named("leg")),
        ("claw", named("claw")),
        ("treatment", named("treatment").map(|t| t.replace(';', " + ").replace('_', " "))),
        ("trimmer", named("who")),
        ("season", Some(season.to_owned())),
    ]
    .into_iter()
    .map(|(by, group)| (by, group.unwrap_or_else(|| "not recorded".to_owned())))
    .collect()
}

/// Changes of many cases, for a grouping.
#[must_use]
pub fn changes(followed: &[(String, Followed)], by: &str) -> Vec<group::CaseChange> {
    followed
        .iter()
        .filter_map(|(animal, f)| {
            let change = f.change?;
            Some(group::CaseChange {
                animal: animal.clone(),
                group: f.outcome.groups.get(by)?.clone(),
                change: change.mean,
            })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::case::Case;
    use crate::record::{AnimalId, Place};
    use crate::report::invented::cow_day;
    use jiff::civil::date;

    #[test]
    fn the_lane_was_first_when_it_said_check_at_this_leg() {
        let at = date(2026, 3, 20);
        let row =
            |date: Date, flag: Flag, place: Place| CowDay { place: Some(place), ..cow_day("7", date, flag) };
        let mut rows = vec![
            row(date(2026, 1, 2), Flag::Urgent, Place::One(Leg::RR)),
            row(date(2026, 3, 1), Flag::Check, Place::One(Leg::LR)),
            row(date(2026, 3, 2), Flag::Watch, Place::One(Leg::RR)),
        ];
        assert_eq!(first_flag(&rows, Leg::RR, at), None);
        rows.push(row(date(2026, 3, 5), Flag::Check, Place::BothRear));
        rows.push(row(date(2026, 3, 9), Flag::Urgent, Place::One(Leg::RR)));
        rows.push(row(date(2026, 3, 21), Flag::Urgent, Place::One(Leg::RF)));
        assert_eq!(first_flag(&rows, Leg::RR, at), Some(date(2026, 3, 5)));
        assert_eq!(first_flag(&rows, Leg::RF, at), None);
    }

    /// A case of so many days after 1 April, with one more field.
    fn later(days: i32, fields: &[(&str, &str)]) -> KeptCase {
        let mut case = Case::new(AnimalId("7".into()), date(2026, 4, 1).saturating_add(days.days()));
        for (name, value) in fields {
            case.set_field(name, value).expect("a good field");
        }
        KeptCase { id: 1, case, follow_ups: vec![], withdrawn: None }
    }

    #[test]
    fn a_new_lesion_at_the_same_leg_within_ninety_days_is_a_relapse() {
        let found = |cases: Vec<KeptCase>| {
            let cow = CowBook { animal: AnimalId("7".into()), passages: vec![], cases, scores: vec![] };
            relapse(&cow, Leg::RR, date(2026, 4, 1))
        };
        let lesion = [("leg", "RR"), ("lesion", "SU")];
        let on = |days: i32| found(vec![later(days, &lesion)]);
        assert_eq!((on(-1), on(0), on(1)), (None, None, Some(1)), "from the day after she is back");
        assert_eq!((on(90), on(91)), (Some(90), None));
        assert_eq!(found(vec![]), None);
        assert_eq!(found(vec![later(10, &[("leg", "LR"), ("lesion", "SU")])]), None, "another leg");
        assert_eq!(found(vec![later(10, &[("leg", "RR")])]), None, "no lesion");
        let withdrawn = KeptCase { withdrawn: Some("a slip".into()), ..later(10, &lesion) };
        assert_eq!(found(vec![withdrawn, later(30, &lesion)]), Some(30), "a withdrawn one does not count");
    }
}
