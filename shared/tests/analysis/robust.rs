//! Nothing that comes in makes the analysis panic or say what is no number.

use crate::support::{STANDS, passages};
use proptest::prelude::*;
use shared::{
    analysis::{Analyser, PassageSummary, Reading},
    plate::PerPlate,
    units::{Kilograms, Milliseconds},
};

fn load() -> impl Strategy<Value = f32> {
    prop_oneof![
        8 => -50.0_f32..800.0,
        2 => Just(0.0_f32),
        1 => any::<f32>(),
        1 => Just(f32::NAN),
        1 => Just(f32::MAX),
    ]
}

fn step_ms() -> impl Strategy<Value = u64> {
    prop_oneof![20 => 1_u64..50, 2 => 50_u64..3000, 1 => Just(0_u64), 1 => 0_u64..u64::MAX / 1000]
}

fn finite(passage: &PassageSummary) -> bool {
    let weight = passage.body_weight.is_none_or(|w| w.value.is_finite() && w.se.is_finite() && w.se >= 0.0);
    let standing = passage.standing.is_none_or(|s| {
        let all = s.share_pct.0.iter().chain(&s.share_sd_pct.0).chain(&s.share_se_pct.0);
        all.chain(&[s.seconds]).all(|x| x.is_finite())
    });
    let walking =
        passage.walking.0.iter().all(|leg| {
            [leg.peak_pct, leg.stance_s, leg.impulse_pct_s, leg.step_s].iter().all(|x| x.is_finite())
        });
    weight && standing && walking
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn garbage_never_panics(
        rate in any::<f32>(),
        // Held values, so that stances and contacts come about.
        parts in prop::collection::vec((prop::array::uniform4(load()), 1_usize..120, step_ms()), 1..40),
    ) {
        let mut analyser = Analyser::new(rate);
        let mut time = 0_u64;
        let mut found = Vec::new();
        for (loads, count, step) in parts {
            for _ in 0..count {
                time = time.saturating_add(step);
                analyser.push(&Reading {
                    time: Milliseconds(time),
                    loads: PerPlate(loads.map(Kilograms)),
                    saturated: PerPlate::default(),
                });
                found.extend(analyser.ended());
            }
        }
        found.extend(analyser.finish());
        for passage in &found {
            prop_assert!(finite(passage), "{passage:?}");
        }
        prop_assert!(analyser.zero().0.iter().all(|zero| zero.0.is_finite()));
        prop_assert!(analyser.noise().0.iter().all(|noise| noise.0.is_finite()));
    }

    /// Shares do not depend on the clock's origin, and the four add up to 100.
    #[test]
    fn shares_add_up(seed in any::<u64>(), origin in 0_u64..1 << 50) {
        let trace = STANDS.crosses(50.0).noisy(1.0, seed);
        let here = passages(50.0, trace.readings());
        let there = passages(50.0, trace.readings().map(|reading| Reading {
            time: Milliseconds(reading.time.0 + origin),
            ..reading
        }));
        prop_assert_eq!(here.len(), 1);
        prop_assert_eq!(here[0].standing, there[0].standing);
        let sum: f32 = here[0].standing.unwrap().share_pct.0.iter().sum();
        prop_assert!((sum - 100.0).abs() < 1e-3);
    }
}

#[test]
fn a_clock_set_back_ends_the_passage_and_goes_on() {
    let trace = STANDS.crosses(100.0).noisy(0.5, 1);
    let all = passages(
        100.0,
        trace.readings().map(|reading| {
            let set_back = reading.time.0 >= crate::support::START_MS + 7000;
            Reading { time: Milliseconds(reading.time.0 - if set_back { 900_000 } else { 0 }), ..reading }
        }),
    );
    assert_eq!(all.len(), 2, "{all:#?}");
    let later = passages(100.0, trace.readings());
    assert_eq!(later.len(), 1);
}

#[test]
fn readings_given_twice_count_once() {
    let trace = STANDS.crosses(100.0).noisy(0.5, 2);
    let once = passages(100.0, trace.readings());
    let twice = passages(100.0, trace.readings().flat_map(|reading| [reading, reading]));
    assert_eq!(once, twice);
}

#[test]
fn memory_is_small() {
    let bytes = size_of::<Analyser>();
    assert!(bytes <= 4096, "{bytes} bytes");
}
