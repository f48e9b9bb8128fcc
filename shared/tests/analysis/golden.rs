//! Two passages worked out on paper.

use crate::support::{START_MS, Trace, one};
use shared::{
    analysis::{PassageKind, Quality, Reason},
    plate::{Leg, Pair},
    units::Milliseconds,
};

fn close(found: f32, paper: f32, tolerance: f32, what: &str) {
    assert!((found - paper).abs() <= tolerance, "{what}: {found}, on paper {paper}");
}

/// 600 kg on four plates for 6 s, 100 Hz. For one second LR is lifted and RR carries its load.
///
/// Shares: 180/600 = 30 %, 150/600 = 25 %, 120/600 = 20 %, 150/600 = 25 %. Front LWR 150/180 = 0.8333, rear
/// 120/150 = 0.8. Front SI 100 (150-180)/165 = -18.18 %, rear 100 (150-120)/135 = 22.22 %. Front share 55 %.
/// First foot on at 2.00 s, last reading with a foot on at 7.99 s: 5.99 s, 600 readings. One lift of LR.
#[test]
fn a_stance_with_a_lift() {
    let stand = [180.0, 150.0, 120.0, 150.0];
    let trace = Trace::new(100.0)
        .empty(2.0)
        .hold(3.0, stand)
        .hold(1.0, [180.0, 150.0, 0.0, 270.0])
        .hold(2.0, stand)
        .empty(2.0);
    let passage = one(&trace);
    assert_eq!(passage.kind, PassageKind::Stance);
    assert_eq!(passage.quality, Quality::default(), "{passage:?}");
    assert_eq!(passage.start, Milliseconds(START_MS + 2000));
    assert_eq!(passage.duration, Milliseconds(5990));
    assert_eq!((passage.readings, passage.lost_readings), (600, 0));
    let weight = passage.body_weight.expect("a weight");
    close(weight.value, 600.0, 0.5, "weight");
    let standing = passage.standing.expect("a stance");
    for (leg, share) in Leg::ALL.into_iter().zip([30.0, 25.0, 20.0, 25.0]) {
        close(standing.share_pct[leg], share, 0.3, leg.name());
    }
    close(standing.share_pct.0.iter().sum(), 100.0, 1e-3, "sum of shares");
    close(standing.lwr(Pair::Front).unwrap(), 0.8333, 0.01, "front LWR");
    close(standing.lwr(Pair::Rear).unwrap(), 0.8, 0.02, "rear LWR");
    close(standing.si_pct(Pair::Front).unwrap(), -18.18, 1.0, "front SI");
    close(standing.si_pct(Pair::Rear).unwrap(), 22.22, 2.0, "rear SI");
    close(standing.front_pct(), 55.0, 0.3, "front share");
    assert_eq!(standing.lifts.0, [0, 0, 1, 0]);
    assert_eq!((standing.front_shifts, standing.rear_shifts), (0, 0));
}

/// Eight contacts of 240 kg and 0.7 s, 0.6 s from left to right: a stride of 1.2 s.
///
/// ```text
/// rear left   LF 0.0-0.7   LR 0.9-1.6      front left   LF 1.2-1.9   LR 2.1-2.8
/// rear right  RF 0.6-1.3   RR 1.5-2.2      front right  RF 1.8-2.5   RR 2.7-3.4
/// ```
/// From 1.5 to 2.1 s the total is 720, 480, 720, 480 kg for 0.1, 0.2, 0.1, 0.2 s:
/// (72 + 96 + 72 + 96) / 0.6 = 560 kg, her weight. Peak 240/560 = 42.86 %, impulse 240 x 0.7 / 560 = 30 % s,
/// step 0.6 s, two contacts a leg. Last reading with a foot on 3.39 s after the first.
#[test]
fn a_walk_through() {
    let foot = |on: f32, plate: usize| {
        let mut loads = [0.0; 4];
        loads[plate] = 240.0;
        (on, Trace::new(100.0).hold(0.7, loads))
    };
    let contacts = [
        foot(0.0, 2),
        foot(0.6, 3),
        foot(0.9, 2),
        foot(1.2, 0),
        foot(1.5, 3),
        foot(1.8, 1),
        foot(2.1, 0),
        foot(2.7, 1),
    ];
    let walk =
        contacts.iter().fold(Trace::new(100.0), |trace, (at, foot)| trace.over(2.0 + at, foot)).empty(2.0);
    let passage = one(&walk);
    assert_eq!(passage.kind, PassageKind::WalkThrough, "{passage:#?}");
    let mut only_no_stance = Quality::default();
    only_no_stance.add(Reason::NoStance);
    assert_eq!(passage.quality, only_no_stance);
    assert_eq!(passage.duration, Milliseconds(3390));
    let weight = passage.body_weight.expect("a weight");
    close(weight.value, 560.0, 8.0, "weight");
    let scale = 560.0 / weight.value;
    for leg in Leg::ALL {
        let walked = passage.walking[leg];
        assert_eq!(walked.count, 2, "{}", leg.name());
        close(walked.peak_pct, 42.86 * scale, 0.6, "peak");
        close(walked.stance_s, 0.7, 0.001, "stance time");
        close(walked.impulse_pct_s, 30.0 * scale, 0.1, "impulse");
        close(walked.step_s, 0.6, 0.001, "step time");
    }
}
