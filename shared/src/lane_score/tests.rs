//! Small passages against small rows, by hand.

use super::{states::EFFECT, *};
use crate::{
    analysis::{LegContacts, PassageKind, PassageSummary, Quality, Reason, Standing},
    identity::AnimalCode,
    plate::{Leg, PerLeg},
    units::Milliseconds,
};

pub(super) fn head() -> TableHead {
    TableHead {
        version: TABLE_VERSION,
        table: 1,
        rows: 1,
        variance: [[9.0, 9.0, 2.25, 16.0, 16.0, 2.25], [36.0; 6], [64.0, 64.0, 9.0, 16.0, 16.0, 2.25]],
        shift: [0.0; 6],
        shift_variance: [0.0; 6],
        scored: [0.004, 0.25, 0.91, 0.99, 1.0, 1.0],
        watch: [0.2, 0.13],
        check: [0.6, 0.4],
        weight: 0.52,
    }
}

/// A cow who is sound, as far as anybody knows, and stands square.
pub(super) fn row() -> CowRow {
    CowRow {
        code: AnimalCode::new(999, 1).unwrap(),
        flag: LaneFlag::Clear,
        treated: false,
        unsettled: false,
        usual: [0, 0, 5_500, 0, 0, 5_500],
        usual_sd: [20; 6],
        noise: [16; 6],
        sound: 1,
        states: heapless::Vec::new(),
    }
}

/// She stood for ten seconds with these shares.
fn stood(share: [f32; 4]) -> PassageSummary {
    PassageSummary {
        start: Milliseconds(0),
        duration: Milliseconds(15_000),
        kind: PassageKind::Stance,
        quality: Quality::default(),
        readings: 1_500,
        lost_readings: 0,
        body_weight: None,
        standing: Some(Standing {
            seconds: 10.0,
            share_pct: PerLeg(share),
            share_sd_pct: PerLeg([1.0; 4]),
            share_se_pct: PerLeg([0.2; 4]),
            front_shifts: 0,
            rear_shifts: 0,
            lifts: PerLeg([0; 4]),
        }),
        walking: PerLeg([LegContacts::default(); 4]),
    }
}

fn judged(row: &CowRow, share: [f32; 4]) -> Judgement {
    judge(&head(), row, &Measures::of(&stood(share)).unwrap())
}

fn close(one: f32, other: f32) -> bool {
    (one - other).abs() < 1e-4 * other.abs().max(1.0)
}

#[test]
fn measures_are_splits_and_front_parts() {
    // 27 and 28 in front: 100 x 1 / 55; 25 and 20 behind: 100 x -5 / 45.
    let measures = Measures::of(&stood([27.0, 28.0, 25.0, 20.0])).unwrap();
    let [front, rear, share, ..] = measures.value;
    assert!(close(front, 1.818_18) && close(rear, -11.111_1) && close(share, 55.0), "{measures:?}");
    assert!(measures.value[3..].iter().all(|value| value.is_nan()));
    // Errors of .2 each: 100 x .4 / 55, 100 x .4 / 45, half of .8; squared.
    let [front, rear, share, ..] = measures.stated;
    assert!(close(front, 0.528_93) && close(rear, 0.790_12) && close(share, 0.16), "{measures:?}");
    assert_eq!(measures.class, Class::Long);
    let contacts = |peak_pct| LegContacts { count: 1, peak_pct, ..LegContacts::default() };
    let mut walked = PassageSummary { kind: PassageKind::WalkThrough, standing: None, ..stood([25.0; 4]) };
    walked.walking = PerLeg([contacts(60.0), contacts(40.0), contacts(50.0), contacts(50.0)]);
    let measures = Measures::of(&walked).unwrap();
    assert_eq!(measures.value[3..], [-20.0, 0.0, 50.0]);
    assert!(measures.value[..3].iter().all(|value| value.is_nan()));
    assert_eq!((measures.class, measures.stated), (Class::Walk, [0.0; 6]));
    walked.walking[Leg::RR].count = 0;
    let measures = Measures::of(&walked).unwrap();
    assert!(measures.value[3] == -20.0 && measures.value[4].is_nan() && measures.value[5].is_nan());
}

#[test]
fn what_is_not_trusted_or_measured_nothing_is_not_judged() {
    let mut summary = stood([25.0; 4]);
    summary.quality.add(Reason::TwoAnimals);
    assert_eq!(Measures::of(&summary), None);
    for (share, some) in [(19.9, false), (20.0, true), (30.0, true), (30.1, false), (f32::NAN, false)] {
        assert_eq!(Measures::of(&stood([share; 4])).is_some(), some, "{share}");
    }
    for (seconds, class) in [(7.9, Class::Short), (8.0, Class::Long)] {
        let mut summary = stood([25.0; 4]);
        summary.standing.as_mut().unwrap().seconds = seconds;
        assert_eq!(Measures::of(&summary).unwrap().class, class);
    }
}

#[test]
fn a_sound_cow_who_stands_as_ever_is_clear() {
    let judged = judged(&row(), [27.5, 27.5, 22.5, 22.5]);
    assert_eq!((judged.flag, judged.leg), (LaneFlag::Clear, None));
    assert!(judged.probability < 0.06, "{judged:?}");
}

#[test]
fn each_leg_that_loses_load_is_named_by_its_own_sign() {
    // Splits of 24 points; a sore front leg also loads the hind leg of its side, by 4.8 points of split.
    for (place, leg, share) in [
        (0, Leg::LF, [20.9, 34.1, 23.6, 21.4]),
        (1, Leg::RF, [34.1, 20.9, 21.4, 23.6]),
        (2, Leg::LR, [27.5, 27.5, 17.1, 27.9]),
        (3, Leg::RR, [27.5, 27.5, 27.9, 17.1]),
    ] {
        // Known before as a little likely to be sore there, at that level, and as likely on the other side.
        let own =
            |place: u8| OwnState { state: 1 + 5 * place + 3, likely: 40, usual: [0; 6], usual_sd: [30; 6] };
        let mut unsure = row();
        unsure.sound = 3;
        unsure.states = heapless::Vec::from_slice(&[own(place), own(place ^ 1)]).unwrap();
        let judged = judged(&unsure, share);
        assert_eq!(judged.leg, Some(leg), "{judged:?}");
        assert!(judged.flag >= LaneFlag::Check && judged.probability > 0.6, "{judged:?}");
    }
}

#[test]
fn one_passage_moves_the_odds_of_a_cow_by_forty_at_most() {
    // Sound with e^-1/16: odds 15.5 to 1; whatever she shows, they become no worse than 15.5 to 40.
    let before = likely(1);
    let most = 40.0 * (1.0 - before) / (40.0 * (1.0 - before) + before);
    let judged = judged(&row(), [27.5, 27.5, 27.9, 17.1]);
    assert!(judged.probability <= most + 1e-3, "{judged:?} {most}");
    // The one state that fits had a tenth of her lame part: .36 x .10 x 40 of it against .94.
    assert!(judged.probability > 0.05, "{judged:?}");
}

#[test]
fn a_cow_who_is_held_lame_stays_so_by_her_own_usual_value() {
    // She was learned lame at RR with 14 points for weeks: were she sound, she would stand square.
    let own = OwnState { state: 1 + 3 * 5 + 2, likely: 1, usual: [0; 6], usual_sd: [20; 6] };
    let mut lame = row();
    (lame.sound, lame.flag) = (60, LaneFlag::Check);
    lame.states = heapless::Vec::from_slice(&[own]).unwrap();
    // A split of -14 behind.
    let judged_lame = judged(&lame, [27.5, 27.5, 25.65, 19.35]);
    assert_eq!((judged_lame.flag, judged_lame.leg), (LaneFlag::Check, Some(Leg::RR)), "{judged_lame:?}");
    // The same stand is usual for a cow who was always so.
    let mut leaning = row();
    leaning.usual[1] = -1_400;
    assert_eq!(judged(&leaning, [27.5, 27.5, 25.65, 19.35]).flag, LaneFlag::Clear);
    // Her own usual value is counted from that of the row, in quarters.
    lame.usual[1] = -1_400;
    lame.states[0].usual[1] = 56;
    let same = judged(&lame, [27.5, 27.5, 25.65, 19.35]);
    assert!(close(same.probability, judged_lame.probability) || same.probability < judged_lame.probability);
    assert_eq!(same.leg, Some(Leg::RR));
}

#[test]
fn what_the_lane_adds_is_taken_out_and_its_doubt_counts() {
    let mut lane = head();
    lane.shift[1] = -12.0;
    let measures = Measures::of(&stood([27.5, 27.5, 25.2, 19.8])).unwrap();
    let shifted = judge(&lane, &row(), &measures);
    assert!(shifted.probability < 0.06, "{shifted:?}");
    let plain = judge(&head(), &row(), &measures);
    assert!(plain.probability > shifted.probability);
    let mut unsure = head();
    unsure.shift_variance[1] = 400.0;
    assert!(judge(&unsure, &row(), &measures).probability < plain.probability);
}

#[test]
fn a_block_or_a_fresh_trim_holds_back_all_but_urgent() {
    let ladder =
        |before, p, severe, treated| super::ladder(before, (p, severe), [0.2, 0.13], [0.6, 0.4], treated);
    use LaneFlag::{Check, Clear, Urgent, Watch};
    for (before, p, severe, treated, flag) in [
        (Clear, 0.19, 0.0, false, Clear),
        (Clear, 0.20, 0.0, false, Watch),
        (Watch, 0.13, 0.0, false, Watch),
        (Watch, 0.12, 0.0, false, Clear),
        (Clear, 0.59, 0.0, false, Watch),
        (Clear, 0.60, 0.0, false, Check),
        (Check, 0.40, 0.0, false, Check),
        (Check, 0.39, 0.0, false, Watch),
        (Clear, 0.60, 0.60, false, Urgent),
        (Clear, 0.60, 0.59, false, Check),
        (Urgent, 0.60, 0.40, false, Urgent),
        (Urgent, 0.60, 0.39, false, Check),
        (Clear, 0.95, 0.59, true, Watch),
        (Clear, 0.95, 0.60, true, Urgent),
        (Clear, 0.10, 0.00, true, Clear),
    ] {
        assert_eq!(ladder(before, p, severe, treated), flag, "{before:?} {p} {severe} {treated}");
    }
    let mut unsettled = row();
    unsettled.unsettled = true;
    let share = [27.5, 27.5, 26.0, 19.0];
    assert!(judged(&unsettled, share).probability < judged(&row(), share).probability);
}

#[test]
fn bytes_of_probability_are_sixteenths_of_a_logarithm() {
    assert_eq!((likely(0), likely(255)), (1.0, 0.0));
    assert!(close(likely(16), 0.367_879) && close(likely(160), 4.54e-5));
}

#[test]
fn effects_of_the_right_legs_mirror_the_splits_alone() {
    for (left, right) in [(0, 1), (2, 3)] {
        for (k, mirrored) in states::MIRRORED.into_iter().enumerate() {
            let (one, other) = (EFFECT[left][k], EFFECT[right][k]);
            assert_eq!(one.0, if mirrored { -other.0 } else { other.0 });
            assert_eq!(one.1, other.1);
        }
    }
    assert_eq!(EFFECT[2][1], (1.0, 0.2), "a point of load is a point of her own pair's split");
    let onset: f32 = states::ONSET.iter().flatten().sum();
    assert!(close(onset, 1.0), "{onset}");
}

#[test]
fn a_state_beyond_the_last_has_no_place() {
    assert_eq!(states::parts(0), None);
    assert_eq!(states::parts(1), Some((0, 0)));
    assert_eq!(states::parts(STATES - 1), Some((PLACES - 1, LEVELS - 1)));
    assert_eq!(states::parts(STATES), None);
}

#[test]
fn loads_below_no_stance_are_of_a_walk() {
    let mut summary = stood([25.0; 4]);
    summary.quality.add(Reason::NoStance);
    assert_eq!(Measures::of(&summary).map(|measures| measures.class), Some(Class::Walk));
    let mut summary = stood([25.0; 4]);
    summary.kind = PassageKind::WalkThrough;
    assert_eq!(Measures::of(&summary).map(|measures| measures.class), Some(Class::Walk));
}

#[test]
fn a_head_with_anything_out_of_bounds_is_not_usable() {
    assert!(head().usable());
    let spoilt: [fn(&mut TableHead); 12] = [
        |head| head.variance[2][5] = 0.0,
        |head| head.variance[0][0] = f32::NAN,
        |head| head.variance[1][1] = 1.1e6,
        |head| head.shift_variance[5] = -0.1,
        |head| head.shift_variance[0] = f32::INFINITY,
        |head| head.shift[3] = -1.1e6,
        |head| head.shift[3] = 1.1e6,
        |head| head.scored[0] = -0.1,
        |head| head.scored[5] = 1.1,
        |head| head.watch[1] = f32::NAN,
        |head| head.check[0] = 1.1,
        |head| head.weight = 1.1,
    ];
    for (at, spoil) in spoilt.into_iter().enumerate() {
        let mut head = head();
        spoil(&mut head);
        assert!(!head.usable(), "{at}");
    }
}

#[test]
fn a_sore_leg_moves_each_measure_its_own_way() {
    let signs = |place: usize| EFFECT[place].map(|(mean, _)| if mean == 0.0 { 0.0 } else { mean.signum() });
    // To the right where the left leg is sore; from the front where a front leg is, and onto the hind leg of its side.
    assert_eq!(signs(0), [1.0, -1.0, -1.0, 1.0, -1.0, -1.0]);
    assert_eq!(signs(2), [0.0, 1.0, 1.0, 0.0, 1.0, 1.0]);
    assert_eq!(signs(4), [0.0, 0.0, -1.0, 0.0, 0.0, -1.0]);
    assert_eq!(signs(5), [0.0, 0.0, 1.0, 0.0, 0.0, 1.0]);
}
