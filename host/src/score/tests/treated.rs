//! Treated cows: caution never hides one that loses more than a block or a trim explains, and flags few others.

use super::*;

/// A block on `leg` of cow 3 from day 30 on, due off on day 58.
fn block(leg: Leg) -> FootWork {
    FootWork {
        look: false,
        date: date(30),
        animal: name(3),
        leg: Some(leg),
        lesion: true,
        block: true,
        block_off: Some(date(100)),
        block_due: Some(date(58)),
        known: crate::record::VersionSpan::ALWAYS,
    }
}

/// The day within three from `day` on that cow 3 is urgent, and what was said then.
fn urgent(run: &ScoreRun, day: i64) -> &CowDay {
    let mut days = (day..day + 3).map(|day| row(run, 3, day));
    days.find(|row| row.flag == Flag::Urgent).unwrap_or_else(|| panic!("{:?}", row(run, 3, day + 2)))
}

fn herd_of(days: i64) -> crate::simulated_herd::SimulatedHerd {
    herd(&Scenario { days, ..small() })
}

#[test]
fn a_cow_with_a_block_behind_that_takes_60_percent_off_a_front_leg_is_urgent_within_two_days() {
    let mut made = herd_of(60);
    unload(&mut made.passages, 3, Leg::LF, 38, 60.0);
    let run = score(&made.passages, &made.register, &[block(Leg::LR)]);
    let found = urgent(&run, 38);
    assert_eq!(found.reasons[0], FlagReason::MoreThanTreatment { leg: Some(Leg::LF) }, "{found:?}");
    assert_eq!(found.advice, Some(Advice::CallVet));
}

#[test]
fn a_blocked_foot_that_loses_70_percent_is_urgent_within_two_days() {
    let mut made = herd_of(60);
    unload(&mut made.passages, 3, Leg::LR, 38, 70.0);
    let run = score(&made.passages, &made.register, &[block(Leg::LR)]);
    assert!(matches!(urgent(&run, 38).reasons[0], FlagReason::MoreThanTreatment { .. }));
}

#[test]
fn a_severe_case_after_a_trim_of_the_whole_herd_is_urgent_within_two_days() {
    let mut made = herd_of(60);
    unload(&mut made.passages, 3, Leg::RR, 32, 60.0);
    let trimmed = |animal: usize| FootWork {
        look: false,
        animal: name(animal),
        leg: None,
        lesion: false,
        block: false,
        block_off: None,
        block_due: None,
        ..block(Leg::LR)
    };
    let work: Vec<FootWork> = (0..12).map(trimmed).collect();
    let run = score(&made.passages, &made.register, &work);
    assert!(matches!(urgent(&run, 32).reasons[0], FlagReason::MoreThanTreatment { .. }));
}

#[test]
fn a_block_that_nobody_reported_off_is_asked_about_and_flags_nobody() {
    let mut made = herd_of(80);
    // 12 % of the leg's load: as many points of the split.
    unload(&mut made.passages, 3, Leg::LR, 30, 12.0);
    let run = score(&made.passages, &made.register, &[FootWork { lesion: false, ..block(Leg::LR) }]);
    for day in 40..80 {
        let today = row(&run, 3, day);
        assert!(!flagged(today.flag), "{today:?}");
        let asked = today.reasons.iter().find_map(|reason| match reason {
            FlagReason::BlockEndNotReported { days, .. } => Some(*days),
            _ => None,
        });
        assert_eq!(asked, (day >= 58).then_some(day - 58), "{today:?}");
        assert_eq!(today.advice == Some(Advice::SayBlock), day >= 58, "{today:?}");
    }
}

#[test]
fn sound_cows_with_a_fresh_block_or_trim_are_hardly_flagged() {
    let (mut days, mut alarms) = (0, 0);
    for seed in 0..4 {
        let mut made = herd(&Scenario { cows: 40, days: 60, onset: 0.0, seed: 900 + seed, ..small() });
        let work: Vec<FootWork> = (0..40)
            .map(|cow| {
                let blocked = cow % 2 == 0;
                let leg = if cow % 4 == 0 { Leg::LR } else { Leg::RR };
                if blocked {
                    unload(&mut made.passages, cow, leg, 30, 12.0);
                }
                let off = blocked.then(|| date(100));
                FootWork {
                    look: false,
                    animal: name(cow),
                    lesion: false,
                    block: blocked,
                    block_off: off,
                    block_due: None,
                    ..block(leg)
                }
            })
            .collect();
        let run = score(&made.passages, &made.register, &work);
        for cow in 0..40 {
            for day in 30..37 {
                days += 1;
                alarms +=
                    u32::from(flagged(row(&run, cow, day).flag) && !flagged(row(&run, cow, day - 1).flag));
            }
        }
    }
    // 1 per 100 such cows a week.
    assert!(700.0 * f64::from(alarms) / f64::from(days) <= 1.0, "{alarms} in {days} cow-days");
}

/// By hand: at 42 points everybody scores 2 or more, so a lesion is found in .680 against .142 + .004 * .538 = .1442 of
/// sound cows, and none in .320 against .8558.
#[test]
fn what_was_found_in_a_lifted_foot_speaks_for_the_leg_it_was_found_in() {
    use crate::score::model::baseline::Baseline;
    use crate::score::model::cow::Filter;
    use crate::score::model::features::MEASURES;
    use crate::score::model::hypotheses::{Hypotheses, SOUND, state};
    use crate::score::model::rates::Rate;
    let hypotheses = Hypotheses::new();
    let prior = Baseline::new(&[0.0; MEASURES], &[1.0; MEASURES]);
    let place = |leg: Leg| leg as usize;
    let odds = |lesions: Option<&[Option<Leg>]>, leg: Leg| {
        let mut filter = Filter::new(&hypotheses, &prior, [Rate::new(0.1); 6]);
        filter.miss();
        if let Some(lesions) = lesions {
            filter.lift(&hypotheses, lesions);
        }
        let sum: f64 = filter.probability.iter().sum();
        assert!((sum - 1.0).abs() < 1e-9);
        filter.probability[state(place(leg), 4)] / filter.probability[SOUND]
    };
    let told = |lesions: &[Option<Leg>], leg: Leg| odds(Some(lesions), leg) / odds(None, leg);
    let near =
        |found: f64, by_hand: f64| assert!((found / by_hand - 1.0).abs() < 0.01, "{found} for {by_hand}");
    near(told(&[Some(Leg::LR)], Leg::LR), 0.680 / 0.1442);
    near(told(&[Some(Leg::LR)], Leg::RR), 1.0);
    near(told(&[None], Leg::RR), 0.680 / 0.1442);
    near(told(&[], Leg::LR), 0.320 / 0.8558);
}

#[test]
fn a_lesion_found_today_counts_today_and_a_look_without_one_too() {
    let made = herd_of(40);
    let lame =
        |work: &[FootWork]| row(&score(&made.passages, &made.register, work), 3, 30).probability.unwrap();
    let look = FootWork { look: true, lesion: false, block: false, ..block(Leg::LR) };
    let (nothing, lesion, none) =
        (lame(&[]), lame(&[FootWork { lesion: true, ..look.clone() }]), lame(&[look]));
    assert!(lesion > 1.05 * nothing && none < 0.99 * nothing, "{nothing} {lesion} {none}");
}
