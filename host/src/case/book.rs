//! Reads what a comparison needs from the store.

use crate::arithmetic::dates::days_between;
use crate::case::before_after::compare::Question;
use crate::case::before_after::kalman::state;
use crate::case::before_after::learn;
use crate::case::before_after::model::{Normal, Prior};
use crate::case::before_after::series::{BlockDays, Plan};
use crate::record::case::KeptCase;
use crate::record::case::block;
use crate::record::{AnimalId, MobilityScore, Passage};
use crate::store::{Store, StoreError};
use jiff::{ToSpan, civil::Date};
use std::collections::BTreeMap;

/// Days around a mobility score of 2 or 3 that are no baseline (our choice: scoring is often fortnightly).
const LAME_DAYS: i32 = 14;
/// Days before and after the treatment of a lesion that are no baseline (our choice).
const LESION_DAYS: (i32, i32) = (28, 42);
/// The days before a treatment, and after it, that are compared unless said otherwise (our choice).
pub const WINDOW_DAYS: (i32, i32) = (28, 42);
/// Least deviation, in normal ranges, from which a half-time is learned (our choice).
const LEARN_FROM: f64 = 1.5;
/// Days a case must have run before a half-time is learned from it (our choice).
const LEARN_DAYS: i32 = 21;

/// Windows of a comparison, with the cow's blocks and her unsound days.
#[must_use]
pub fn plan(cases: &[KeptCase], scores: &[MobilityScore], at: Date, until: Date, window: (i32, i32)) -> Plan {
    let counted = || cases.iter().filter(|c| c.withdrawn.is_none());
    let blocks = counted()
        .filter(|c| c.case.treatment.block.is_some())
        .filter_map(|c| {
            Some(BlockDays { leg: c.case.leg?, from: c.case.date, due: block::due(c), off: block::off(c) })
        })
        .collect();
    let around = |day: Date, before: i32, after: i32| {
        (day.saturating_sub(before.days()), day.saturating_add(after.days()))
    };
    let unsound = scores
        .iter()
        .filter(|s| s.score >= 2)
        .map(|s| around(s.date, LAME_DAYS, LAME_DAYS))
        .chain(
            counted()
                .filter(|c| c.case.lesion.is_some())
                .map(|c| around(c.case.date, LESION_DAYS.0, LESION_DAYS.1)),
        )
        .collect();
    Plan { at, until, before_days: window.0, after_days: window.1, blocks, unsound }
}

/// What the farm's own cases taught of one thing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Learned {
    /// What is expected of the next case.
    pub value: Normal,
    /// Own cases behind it; without any it is the published or chosen one.
    pub cases: usize,
}

/// What the store holds of one cow.
#[derive(Debug)]
pub struct CowBook {
    /// The cow.
    pub animal: AnimalId,
    /// Her passages in order of time.
    pub passages: Vec<Passage>,
    /// Her cases.
    pub cases: Vec<KeptCase>,
    /// Her mobility scores.
    pub scores: Vec<MobilityScore>,
}

impl CowBook {
    /// The question of a comparison about a day.
    #[must_use]
    pub fn question(
        &self,
        at: Date,
        until: Date,
        window: (i32, i32),
        learned: &BTreeMap<String, Learned>,
    ) -> Question<'_> {
        let case =
            self.cases.iter().find(|c| c.withdrawn.is_none() && c.case.date == at && c.case.leg.is_some());
        let lesion = case.and_then(|c| c.case.lesion.as_ref()).map(|l| l.as_str());
        Question {
            passages: &self.passages,
            plan: plan(&self.cases, &self.scores, at, until, window),
            leg: case.and_then(|c| c.case.leg),
            prior: prior_of(learned, lesion),
        }
    }
}

fn prior_of(learned: &BTreeMap<String, Learned>, lesion: Option<&str>) -> Prior {
    let usual = Prior::default();
    let by_lesion = lesion.and_then(|l| learned.get(&format!("half_time:{l}")));
    let half_time = by_lesion.or_else(|| learned.get("half_time")).filter(|h| h.cases > 0);
    Prior {
        block: learned.get("block").map_or(usual.block, |block| block.value),
        half_time: half_time.map_or(usual.half_time, |h| (h.value.mean, h.value.sd)),
        own_cases: half_time.map_or(0, |h| h.cases),
        own_lesion: by_lesion.is_some(),
    }
}

/// What one case teaches: the block's effect on its leg, and the half-time, where they can be told.
#[must_use]
pub fn lesson(question: &Question<'_>, leg: shared::plate::Leg) -> (Option<Normal>, Option<f64>) {
    let all = crate::case::before_after::series::series(question.passages, &question.plan);
    let series = &all[leg];
    let Some(fit) = crate::case::before_after::model::Fit::new(&series.observations, &Prior::default())
    else {
        return (None, None);
    };
    let settled = |on: bool| {
        series
            .observations
            .iter()
            .filter(|o| {
                o.phase == crate::case::before_after::kalman::CasePhase::After && (o.block != 0.0) == on
            })
            .count()
    };
    let block = (settled(true) >= 4 && settled(false) >= 4).then(|| {
        // What the data alone say: the published prior is taken out again, so that it does not count twice.
        let (after, prior) = (fit.sum(&[(state::BLOCK, 1.0)]), learn::PUBLISHED_BLOCK);
        let precision = after.sd.powi(-2) - prior.sd.powi(-2);
        (precision > 0.1 * prior.sd.powi(-2)).then(|| Normal {
            mean: (after.mean * after.sd.powi(-2) - prior.mean * prior.sd.powi(-2)) / precision,
            sd: precision.powf(-0.5),
        })
    });
    let clear = fit.at_treatment().mean < -LEARN_FROM * series.normal_range
        && days_between(question.plan.at, question.plan.until) >= LEARN_DAYS;
    (block.flatten(), clear.then(|| fit.half_time().value))
}

impl Store {
    /// All that is kept of one cow.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn cow(&self, animal: &AnimalId, passages: Vec<Passage>) -> Result<CowBook, StoreError> {
        let (cases, scores) = (self.cases(Some(animal))?, self.mobility_scores_of(Some(animal))?);
        Ok(CowBook { animal: animal.clone(), passages, cases, scores })
    }

    /// What the farm's own cases taught, by key.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn learned(&self) -> Result<BTreeMap<String, Learned>, StoreError> {
        let mut statement = self.connection().prepare_cached("SELECT key, mean, sd, cases FROM learned")?;
        let rows = statement.query_map([], |row| {
            let value = Normal { mean: row.get(1)?, sd: row.get(2)? };
            let cases: i64 = row.get(3)?;
            Ok((row.get(0)?, Learned { value, cases: usize::try_from(cases).unwrap_or(0) }))
        })?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// Keeps what the cases taught: effects of blocks, and half-times with their lesions.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn learn(&self, blocks: &[Normal], half_times: &[(Option<String>, f64)]) -> Result<(), StoreError> {
        let mut learned: Vec<(String, (f64, f64), usize)> = Vec::new();
        let block = learn::block(blocks);
        learned.push(("block".to_owned(), (block.mean, block.sd), blocks.len()));
        let all: Vec<f64> = half_times.iter().map(|h| h.1).collect();
        learned.push(("half_time".to_owned(), learn::half_time(&all), all.len()));
        let mut lesions: BTreeMap<&str, Vec<f64>> = BTreeMap::new();
        for (lesion, half_time) in half_times {
            if let Some(lesion) = lesion {
                lesions.entry(lesion).or_default().push(*half_time);
            }
        }
        for (lesion, own) in lesions {
            learned.push((format!("half_time:{lesion}"), learn::half_time(&own), own.len()));
        }
        self.batch(|store| {
            store.connection().execute("DELETE FROM learned", [])?;
            for (key, (mean, sd), cases) in &learned {
                store
                    .connection()
                    .prepare_cached("INSERT INTO learned (key, mean, sd, cases) VALUES (?1, ?2, ?3, ?4)")?
                    .execute(rusqlite::params![key, mean, sd, *cases as i64])?;
            }
            Ok(())
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::invented::stance;
    use jiff::civil::date;
    use shared::plate::Leg;

    const AT: Date = date(2026, 3, 2);

    fn day(since: i32) -> Date {
        AT.saturating_add(since.days())
    }

    /// A stance so many days after the treatment, with a load of the right hind leg in % of 23, an even one.
    fn loaded(since: i32, rear_pct: f64) -> Passage {
        stance("412", day(since), [27.0, 27.0, 23.0, (0.23 * rear_pct) as f32])
    }

    fn question(passages: &[Passage], days: i32, blocks: Vec<BlockDays>) -> Question<'_> {
        let plan =
            Plan { at: AT, until: day(days), before_days: 28, after_days: 42, blocks, unsound: vec![] };
        Question { passages, plan, leg: Some(Leg::RR), prior: Prior::default() }
    }

    /// One stance a day from day 4, the first day judged: so many with a block under the leg, then so many without.
    fn of_block(with: i32, with_pct: f64, without: i32) -> Option<Normal> {
        let passages: Vec<Passage> = (0..with + without)
            .map(|index| loaded(4 + index, if index < with { with_pct } else { 100.0 }))
            .collect();
        let block = BlockDays { leg: Leg::RR, from: AT, due: None, off: Some(day(4 + with)) };
        lesson(&question(&passages, 20, vec![block]), Leg::RR).0
    }

    #[test]
    fn a_case_without_passages_teaches_nothing() {
        assert_eq!(lesson(&question(&[], 42, vec![]), Leg::RR), (None, None));
    }

    #[test]
    fn a_block_teaches_from_four_settled_passages_with_it_and_four_without() {
        assert!(of_block(4, 100.0, 4).is_some());
        assert_eq!((of_block(3, 100.0, 4), of_block(4, 100.0, 3)), (None, None));
    }

    #[test]
    fn a_block_that_moved_no_load_teaches_that_it_moves_none() {
        // Every load is the usual one, and the published effect, of either sign, is taken out again.
        let learned = of_block(6, 100.0, 6).expect("six on either side");
        assert!(learned.mean.abs() < 1e-9, "{learned:?}");
    }

    #[test]
    fn a_leg_that_carried_a_tenth_less_until_the_block_came_off_teaches_a_tenth() {
        let learned = of_block(8, 90.0, 8).expect("eight on either side");
        assert!((learned.mean - 10.0).abs() < 2.0, "{learned:?}");
    }

    /// Ten sound stances, then ten before the treatment at `before` % of the usual load, of which half is made good
    /// every eight days after it.
    fn recovery(before: f64, days: i32) -> Option<f64> {
        let sound = (0..10).map(|index| loaded(2 * index - 60, 100.0));
        let lame = (0..10).map(|index| loaded(2 * index - 20, before));
        let left = |since: i32| (before - 100.0) * (-f64::from(since) / 8.0).exp2();
        let healing = (4..=days).step_by(2).map(|since| loaded(since, 100.0 + left(since)));
        let passages: Vec<Passage> = sound.chain(lame).chain(healing).collect();
        lesson(&question(&passages, days, vec![]), Leg::RR).1
    }

    #[test]
    fn a_half_time_is_learned_of_a_clear_loss_after_three_weeks() {
        let half_time = recovery(80.0, 28).expect("20 % less is clear");
        assert!((5.0..13.0).contains(&half_time), "{half_time}");
        assert!(recovery(80.0, 21).is_some());
        assert_eq!(recovery(80.0, 20), None);
    }

    #[test]
    fn a_half_time_is_not_learned_of_a_small_loss() {
        // Her days do not differ, so the least range holds, 4 %, and one and a half of it is 6 %.
        assert_eq!(recovery(96.0, 28), None);
        assert!(recovery(90.0, 28).is_some());
    }
}
