//! By hand: works of day 100, and the days after.

use super::*;
use crate::score::model::cow::tests::sound;
use crate::score::model::features::MEASURES;

const TRIM: DatedWork = DatedWork {
    day: 100,
    leg: None,
    lesion: false,
    look: false,
    block: None,
    due: None,
    known: (0, i64::MAX),
};
const LESION: DatedWork = DatedWork { leg: Some(Leg::LR), lesion: true, ..TRIM };
const BLOCK: DatedWork = DatedWork { block: Some((100, 130)), due: Some(125), ..LESION };

#[test]
fn a_trim_unsettles_for_a_week_and_a_lesion_for_two() {
    let of = |work: DatedWork, day: i64| WorkStanding::of(&[work], day);
    for (work, last) in [(TRIM, 107), (LESION, 114)] {
        assert_eq!(of(work, 99).unsettled, None);
        assert_eq!(of(work, 100).unsettled, Some(0));
        assert_eq!(of(work, last).unsettled, Some((last - 100) as u32));
        assert!(of(work, last).treated());
        assert_eq!(of(work, last + 1).unsettled, None);
        assert!(!of(work, last + 1).treated());
        assert!(of(work, 107).fresh() && !of(work, 108).fresh());
    }
    assert!(!of(TRIM, 101).healing);
    assert!(of(LESION, 135).healing && !of(LESION, 136).healing);
    assert_eq!(of(DatedWork { look: true, ..LESION }, 101), WorkStanding::default());
    for (known, found) in [((0, 101), None), ((102, i64::MAX), None), ((101, 102), Some(1))] {
        assert_eq!(of(DatedWork { known, ..TRIM }, 101).unsettled, found);
    }
    // Healing from the first, unsettled by the last.
    let both = WorkStanding::of(&[LESION, DatedWork { day: 120, ..TRIM }], 121);
    assert!(both.healing && both.unsettled == Some(1));
}

#[test]
fn a_block_is_on_until_its_day_off_and_overdue_from_its_due_day() {
    let of = |day: i64| WorkStanding::of(&[BLOCK], day);
    assert_eq!(of(99).block, None);
    assert_eq!((of(100).block, of(100).block_since), (Some(Some(Leg::LR)), 100));
    assert_eq!(
        (of(124).block_overdue, of(125).block_overdue, of(129).block_overdue),
        (None, Some(0), Some(4))
    );
    assert!(of(129).treated());
    assert_eq!((of(130).block, of(130).block_overdue), (None, None));
}

#[test]
fn what_was_found_is_of_that_day_alone() {
    let works = [TRIM, LESION, DatedWork { leg: None, ..LESION }];
    assert_eq!(found(&works, 99), None);
    assert_eq!(found(&works[..1], 100), Some(vec![]));
    assert_eq!(found(&works, 100), Some(vec![Some(Leg::LR), None]));
    assert_eq!(found(&[DatedWork { known: (101, i64::MAX), ..LESION }], 100), None);
}

// Ten points of the pair's split, half of them in walking, .15 of them between front and rear: 100, 25 and 2.25.
#[test]
fn a_block_makes_its_pair_unknown_and_gives_it_back() {
    let noise = Noise::new();
    for leg in [Some(Leg::LF), Some(Leg::RR), None] {
        let mut filter = sound(1.0, 2.0);
        let saved = block_on(&mut filter, leg, 100);
        assert_eq!(saved.leg(), leg);
        let pair = |of: Pair| leg.is_none_or(|leg| leg.pair() == of);
        for (measure, more) in [
            (Measure::FrontSplit, if pair(Pair::Front) { 100.0 } else { 0.0 }),
            (Measure::FrontPeak, if pair(Pair::Front) { 25.0 } else { 0.0 }),
            (Measure::FrontTime, if pair(Pair::Front) { 25.0 } else { 0.0 }),
            (Measure::RearSplit, if pair(Pair::Rear) { 100.0 } else { 0.0 }),
            (Measure::RearPeak, if pair(Pair::Rear) { 25.0 } else { 0.0 }),
            (Measure::RearTime, if pair(Pair::Rear) { 25.0 } else { 0.0 }),
            (Measure::FrontShare, 2.25),
            (Measure::PeakFront, 2.25),
            (Measure::RearSway, 0.0),
        ] {
            let found = filter.baseline[7].variance[measure as usize];
            assert!((found - 2.0 - more).abs() < 1e-6, "{leg:?} {measure:?} {found}");
        }
        filter.baseline.iter_mut().for_each(|baseline| baseline.shift(&[5.0; MEASURES]));
        block_off(&mut filter, &saved, &noise, 110);
        for measure in [Measure::FrontShare, Measure::FrontTime, Measure::RearSplit, Measure::RearSway] {
            let k = measure as usize;
            let shifted = shifted(leg).iter().any(|(of, _)| *of == measure);
            let wanted = if shifted { (1.0, 2.0 + 10.0 * noise.drift(k)) } else { (6.0, 2.0) };
            let found = filter.baseline[7];
            assert!((f64::from(found.mean[k]) - wanted.0).abs() < 1e-6, "{leg:?} {measure:?}");
            assert!((f64::from(found.variance[k]) - wanted.1).abs() < 1e-5, "{leg:?} {measure:?}");
        }
    }
}
