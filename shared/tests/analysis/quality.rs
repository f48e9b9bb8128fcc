//! Every reason: planted and found, absent where it should be.

use crate::support::{Cow, SOUND, STANDS, Trace, analysed, one, passages, sways};
use shared::{
    analysis::{PassageKind, PassageSummary, Quality, Reading, Reason},
    plate::{PerPlate, Plate},
    units::Kilograms,
};

const EVEN: [f32; 4] = [165.0, 165.0, 135.0, 135.0];

fn stand(seconds: f32) -> Trace {
    Trace::new(100.0).empty(2.0).ramp(0.4, EVEN).hold(seconds, EVEN).ramp(0.4, [0.0; 4]).empty(2.0)
}

fn assert_has(passage: &PassageSummary, reason: Reason) {
    assert!(
        passage.quality.has(reason),
        "no {}: {:?}, {passage:#?}",
        reason.name(),
        passage.quality.reasons().collect::<Vec<_>>()
    );
    if reason.spoils() {
        assert!(!passage.quality.trusted());
    }
}

/// Sound passages of all sorts, at all rates, have no reason at all (walking through: `no_stance` alone).
#[test]
fn sound_passages_have_no_reason() {
    let mut walked = Quality::default();
    walked.add(Reason::NoStance);
    for rate in [20.0, 50.0, 100.0, 500.0] {
        for seed in 0..6 {
            let stride = 1.1 + 0.1 * seed as f32;
            let through = one(&Cow { stride, ..SOUND }.crosses(rate).noisy(0.6, seed));
            assert_eq!(through.quality, walked, "{rate} Hz, stride {stride}: {through:?}");
            let stands = one(&Cow { stride, ..STANDS }.crosses(rate).noisy(0.6, seed));
            assert_eq!(stands.quality, Quality::default(), "{rate} Hz, stride {stride}: {stands:#?}");
            let sways = one(&sways(rate, 8.0, [28.0, 26.0, 24.0, 22.0], 2.0, 1.0, seed));
            assert_eq!(sways.quality, Quality::default(), "{rate} Hz: {sways:#?}");
        }
    }
}

#[test]
fn two_animals_nose_to_tail_while_the_first_stands() {
    // The second cow's fore foot joins on the rear left plate.
    let trace = stand(6.0)
        .over(5.0, &Trace::new(100.0).ramp(0.2, [0.0, 0.0, 150.0, 0.0]).hold(1.5, [0.0, 0.0, 150.0, 0.0]));
    assert_has(&one(&trace.noisy(0.5, 1)), Reason::TwoAnimals);
}

#[test]
fn two_animals_nose_to_tail_walking() {
    // The second cow's fore feet land on the rear plates while the first has her hind feet on the front plates.
    for behind in [2.25, 2.5, 2.75, 3.0] {
        let first = SOUND.crosses(100.0);
        let trace = first.over(behind * SOUND.stride, &SOUND.crosses(100.0)).noisy(0.5, 2);
        let all = analysed(&trace);
        assert_eq!(all.len(), 1, "{behind}");
        assert_has(&all[0], Reason::TwoAnimals);
    }
}

#[test]
fn foot_across_two_plates() {
    // The left fore foot lands half on the rear plate beside, or leaving, the right hind foot on the front one.
    for (plate, beside, strides) in [(2, 3, 1.25), (1, 0, 3.5)] {
        let landing = 2.0 + strides * SOUND.stride;
        let trace = SOUND.crosses(100.0).map(|t, loads| {
            if t >= landing && t < landing + SOUND.duty * SOUND.stride {
                let half = 0.5 * loads[plate];
                loads[plate] -= half;
                loads[beside] += half;
            }
        });
        assert_has(&one(&trace.noisy(0.5, 3)), Reason::FootAcross);
    }
}

#[test]
fn no_stance() {
    assert_has(&one(&SOUND.crosses(100.0)), Reason::NoStance);
    assert!(!one(&STANDS.crosses(100.0)).quality.has(Reason::NoStance));
}

#[test]
fn too_short() {
    let trace = Trace::new(100.0).empty(2.0).hold(0.6, [0.0, 0.0, 300.0, 0.0]).empty(2.0).noisy(0.3, 4);
    assert_has(&one(&trace), Reason::TooShort);
    assert!(!one(&stand(1.0)).quality.has(Reason::TooShort));
}

#[test]
fn backed_out() {
    // In, a stop, and out the way she came: the trace up to the middle of the stop, then back in time.
    let mut trace = STANDS.crosses(100.0);
    let half = (2.0 + 2.75 * STANDS.stride + 3.0) * 100.0;
    trace.loads.truncate(half as usize);
    let back: Vec<_> = trace.loads.iter().rev().copied().collect();
    trace.loads.extend(back);
    assert_has(&one(&trace.noisy(0.4, 5)), Reason::BackedOut);
    // Only the fore feet on the rear plates, and back.
    let peek = Trace::new(100.0)
        .empty(2.0)
        .ramp(0.3, [0.0, 0.0, 160.0, 0.0])
        .ramp(0.3, [0.0, 0.0, 160.0, 160.0])
        .hold(3.0, [0.0, 0.0, 160.0, 160.0])
        .ramp(0.5, [0.0; 4])
        .empty(2.0);
    assert_has(&one(&peek.noisy(0.4, 6)), Reason::BackedOut);
}

#[test]
fn saturated() {
    let trace = stand(5.0);
    let planted = |at: usize| {
        passages(
            100.0,
            trace.readings().enumerate().map(move |(i, reading)| {
                let mut saturated = PerPlate::default();
                saturated[Plate::RF] = i == at;
                Reading { saturated, ..reading }
            }),
        )
    };
    assert_has(&planted(400)[0], Reason::Saturated);
    assert!(!planted(50)[0].quality.has(Reason::Saturated), "on the empty deck");
}

#[test]
fn lost_readings() {
    let trace = stand(10.0).noisy(0.4, 7);
    let gap = passages(
        100.0,
        trace.readings().enumerate().filter(|(i, _)| !(500..550).contains(i)).map(|(_, reading)| reading),
    );
    assert_eq!(gap.len(), 1);
    assert_has(&gap[0], Reason::LostReadings);
    assert_eq!(gap[0].lost_readings, 50);
    let scattered = passages(
        100.0,
        trace.readings().enumerate().filter(|(i, _)| i % 20 != 0).map(|(_, reading)| reading),
    );
    assert_has(&scattered[0], Reason::LostReadings);
    let few = passages(
        100.0,
        trace.readings().enumerate().filter(|(i, _)| i % 200 != 0).map(|(_, reading)| reading),
    );
    assert!(!few[0].quality.has(Reason::LostReadings), "{few:?}");
    let not_a_number = passages(
        100.0,
        trace.readings().enumerate().map(|(i, mut reading)| {
            if (500..550).contains(&i) {
                reading.loads[Plate::LR] = Kilograms(f32::NAN);
            }
            reading
        }),
    );
    assert_has(&not_a_number[0], Reason::LostReadings);
}

#[test]
fn ringing() {
    let knocked = stand(6.0).map(|t, loads| {
        if t > 4.0 {
            let ring = 30.0 * (-(t - 4.0)).exp() * (70.0 * t).sin();
            loads.iter_mut().for_each(|load| *load += ring);
        }
    });
    assert_has(&one(&knocked.noisy(0.4, 8)), Reason::Ringing);
}

#[test]
fn too_light() {
    // A calf that stands, and a person of 80 kg.
    let calf = Trace::new(100.0)
        .empty(2.0)
        .ramp(0.4, [20.0, 20.0, 20.0, 20.0])
        .hold(5.0, [20.0, 20.0, 20.0, 20.0])
        .ramp(0.4, [0.0; 4])
        .empty(2.0);
    assert_has(&one(&calf.noisy(0.4, 9)), Reason::TooLight);
    let person = Trace::new(100.0)
        .empty(2.0)
        .hold(0.7, [0.0, 0.0, 80.0, 0.0])
        .hold(0.7, [0.0, 80.0, 0.0, 0.0])
        .empty(2.0);
    assert_has(&one(&person.noisy(0.4, 10)), Reason::TooLight);
    let small = one(&Cow { weight: 350.0, ..STANDS }.crosses(100.0).noisy(0.4, 11));
    assert!(!small.quality.has(Reason::TooLight));
}

#[test]
fn stuck_plate() {
    // Frozen at a load when she has been standing for a while, through her leaving and the next cow.
    let mut frozen = None;
    let trace = STANDS.crosses(100.0).noisy(0.5, 12).map(|t, loads| {
        if t > 6.5 {
            loads[1] = *frozen.get_or_insert(loads[1]);
        }
    });
    let all = analysed(&trace.hold(4.0, [0.0, frozen.unwrap_or(0.0), 0.0, 0.0]));
    assert_has(&all[0], Reason::StuckPlate);
    // Dead from the start.
    let dead = STANDS.crosses(100.0).noisy(0.5, 13).map(|_, loads| loads[3] = 0.0);
    assert_has(&one(&dead), Reason::StuckPlate);
}

#[test]
fn cut_off() {
    let whole = stand(6.0).noisy(0.4, 14);
    let mut late = whole.clone();
    late.loads.drain(..400);
    assert_has(&one(&late), Reason::CutOff);
    let mut early = whole.clone();
    early.loads.truncate(500);
    assert_has(&one(&early), Reason::CutOff);
    // Five seconds without readings while she is on.
    let gap = passages(
        100.0,
        whole.readings().enumerate().map(|(i, mut reading)| {
            reading.time.0 += if i > 500 { 5000 } else { 0 };
            reading
        }),
    );
    assert_has(&gap[0], Reason::CutOff);
    assert!(!one(&whole).quality.has(Reason::CutOff));
}

#[test]
fn zero_unsure() {
    let mut at_once = stand(5.0).noisy(0.4, 15);
    at_once.loads.drain(..180);
    assert_has(&one(&at_once), Reason::ZeroUnsure);
    let dung = stand(5.0).map(|t, loads| loads[2] += if t > 5.0 { 5.0 } else { 0.0 }).noisy(0.4, 16);
    assert_has(&one(&dung), Reason::ZeroUnsure);
}

#[test]
fn feet_unsure() {
    // Loads that wander over three plates like nothing that walks.
    let trace = Trace::new(100.0)
        .empty(2.0)
        .hold(1.0, [300.0, 0.0, 0.0, 0.0])
        .hold(1.0, [0.0, 0.0, 0.0, 400.0])
        .hold(1.0, [0.0, 300.0, 0.0, 0.0])
        .hold(1.0, [300.0, 0.0, 0.0, 0.0])
        .empty(2.0);
    let passage = one(&trace.noisy(0.4, 17));
    assert_eq!(passage.kind, PassageKind::Unclear);
    assert_has(&passage, Reason::FeetUnsure);
}

#[test]
fn a_zero_not_seen_for_two_minutes_is_unsure() {
    // A plate that is shaken, by too little for somebody to be on, is no empty deck.
    let after = |seconds: f32| {
        let shaken = Trace::new(50.0).empty(seconds).map(|t, loads| loads[1] += 6.0 * (70.0 * t).sin());
        let stood = Trace::new(50.0).ramp(0.4, EVEN).hold(5.0, EVEN).ramp(0.4, [0.0; 4]).empty(2.0);
        one(&Trace::new(50.0).empty(2.0).then(&shaken).then(&stood).noisy(0.3, 18))
    };
    assert!(!after(115.0).quality.has(Reason::ZeroUnsure));
    assert_has(&after(125.0), Reason::ZeroUnsure);
}
