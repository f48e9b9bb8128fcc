//! Are the standard errors honest? Many passages of the same cow: the spread of the estimates is held against the
//! standard errors given.
#![allow(clippy::print_stdout)] // The figures are worth reading: `cargo test -p shared errors -- --show-output`.

use crate::support::{Cow, Noise, SOUND, one, sways};
use shared::analysis::PassageKind;

fn mean_and_sd(values: &[f32]) -> (f32, f32) {
    let n = values.len() as f32;
    let mean = values.iter().sum::<f32>() / n;
    let variance = values.iter().map(|x| (x - mean) * (x - mean)).sum::<f32>() / (n - 1.0);
    (mean, variance.sqrt())
}

fn root_mean_square(values: &[f32]) -> f32 {
    (values.iter().map(|x| x * x).sum::<f32>() / values.len() as f32).sqrt()
}

/// The factor within which standard error and spread of leg shares must agree, for sway with a correlation time
/// of 0.3 to 1.5 s and stances of 3 s to 40 s.
const SHARE_FACTOR: f32 = 1.6;

#[test]
fn share_errors_match_the_spread_over_passages() {
    for (seconds, tau) in
        [(3.0, 0.3), (3.0, 1.0), (6.0, 0.5), (6.0, 1.5), (15.0, 0.5), (15.0, 1.5), (40.0, 1.0), (40.0, 0.1)]
    {
        let shares = [28.0, 26.0, 24.0, 22.0];
        let (mut found, mut errors) = (Vec::new(), Vec::new());
        for seed in 0..150 {
            let passage = one(&sways(25.0, seconds, shares, 2.0, tau, 1000 + seed));
            let standing = passage.standing.expect("a stance");
            found.push(standing.share_pct.0[2]);
            errors.push(standing.share_se_pct.0[2]);
        }
        let (mean, spread) = mean_and_sd(&found);
        let error = root_mean_square(&errors);
        let ratio = error / spread;
        println!(
            "{seconds} s, tau {tau} s: mean {mean:.3}, spread {spread:.3}, SE {error:.3}, ratio {ratio:.2}"
        );
        assert!((mean - shares[2]).abs() < 4.0 * spread / (found.len() as f32).sqrt(), "bias: {mean}");
        assert!(
            (1.0 / SHARE_FACTOR..SHARE_FACTOR).contains(&ratio),
            "{seconds} s, tau {tau} s: spread {spread}, standard error {error}"
        );
    }
}

/// Walking weights: the bias is under 1 %, and the standard error is between the spread seen here and three times
/// it: it is set from real cows, which differ from day to day as well as from step to step.
#[test]
fn walking_weights_are_true_and_their_errors_cover() {
    let mut noise = Noise(5);
    let (mut found, mut errors) = (Vec::new(), Vec::new());
    for seed in 0..100 {
        let cow = Cow {
            stride: 1.15 + 0.4 * noise.uniform(),
            duty: 0.60 + 0.08 * noise.uniform(),
            bounce: 0.08 * noise.uniform(),
            ..SOUND
        };
        // No two steps alike: 2 % up and down with a correlation time of a quarter of a second.
        let (mut uneven, keep) = (0.0, (-1.0_f32 / (50.0 * 0.25)).exp());
        let trace = cow.crosses(50.0).map(|_, loads| {
            uneven = keep * uneven + 0.02 * (1.0 - keep * keep).sqrt() * noise.normal();
            loads.iter_mut().for_each(|load| *load *= 1.0 + uneven);
        });
        let passage = one(&trace.noisy(1.0, seed));
        assert_eq!(passage.kind, PassageKind::WalkThrough);
        let weight = passage.body_weight.expect("a weight");
        found.push(weight.value);
        errors.push(weight.se);
    }
    let (mean, spread) = mean_and_sd(&found);
    let error = root_mean_square(&errors);
    println!("walking: mean {mean:.1}, spread {spread:.1}, SE {error:.1}");
    assert!((mean / 600.0 - 1.0).abs() < 0.01, "{mean}");
    assert!(error > spread && error < 3.0 * spread, "{error} {spread}");
}
