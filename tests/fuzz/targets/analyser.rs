//! Any readings: what is measured is finite and within what a scale can show.
#![no_main]

use libfuzzer_sys::fuzz_target;
use shared::analysis::{Analyser, PassageSummary, Reading};
use shared::plate::PerPlate;
use shared::units::{Kilograms, Milliseconds};

fn sound(passage: &PassageSummary) {
    let weight = passage.body_weight.into_iter().flat_map(|weight| [weight.value, weight.se]);
    let standing = passage.standing.into_iter().flat_map(|standing| {
        let all = [standing.share_pct.0, standing.share_sd_pct.0, standing.share_se_pct.0];
        all.into_iter().flatten().chain([standing.seconds])
    });
    let walking = passage.walking.0.into_iter().flat_map(|leg| [leg.peak_pct, leg.stance_s, leg.impulse_pct_s, leg.step_s]);
    assert!(weight.chain(standing).chain(walking).all(f32::is_finite), "{passage:?}");
}

fuzz_target!(|bytes: &[u8]| {
    let Some((rate, parts)) = bytes.split_first() else { return };
    let mut analyser = Analyser::new(20.0 + 4.0 * f32::from(*rate));
    let mut time = 0_u64;
    // Held loads, so that stances and contacts come about: how long, how far apart, four loads.
    for part in parts.chunks_exact(6) {
        let loads = [part[2], part[3], part[4], part[5]].map(|byte| match byte {
            255 => f32::NAN,
            254 => f32::MAX,
            253 => -1e30,
            byte => 4.0 * f32::from(byte) - 40.0,
        });
        for _ in 0..=part[0] {
            time += u64::from(part[1]);
            analyser.push(&Reading {
                time: Milliseconds(time),
                loads: PerPlate(loads.map(Kilograms)),
                saturated: PerPlate([part[1] == 7; 4]),
            });
            if let Some(passage) = analyser.ended() {
                sound(&passage);
            }
        }
    }
    if let Some(passage) = analyser.finish() {
        sound(&passage);
    }
});
