//! The streaming segmentation against a slow and obvious one that sees the whole trace at once.

use crate::support::{Cow, Noise, SOUND, START_MS, Trace, analysed, sways};

/// Centred mean over 0.2 s.
fn smooth(trace: &Trace) -> Vec<[f32; 4]> {
    let half = (0.1 * trace.rate_hz).round() as usize;
    (0..trace.loads.len())
        .map(|i| {
            let window = &trace.loads[i.saturating_sub(half)..(i + half + 1).min(trace.loads.len())];
            core::array::from_fn(|p| window.iter().map(|loads| loads[p]).sum::<f32>() / window.len() as f32)
        })
        .collect()
}

/// First and last reading of each passage: total above 25 kg, pauses under half a second closed, then widened to
/// where the unsmoothed total is above 8 kg.
fn slow_passages(trace: &Trace) -> Vec<(usize, usize)> {
    let total: Vec<f32> = smooth(trace).iter().map(|loads| loads.iter().sum()).collect();
    let mut found: Vec<(usize, usize)> = Vec::new();
    let pause = (0.5 * trace.rate_hz) as usize;
    for (i, _) in total.iter().enumerate().filter(|(_, total)| **total > 25.0) {
        match found.last_mut() {
            Some((_, last)) if i - *last <= pause => *last = i,
            _ => found.push((i, i)),
        }
    }
    let on = |i: usize| trace.loads[i].iter().sum::<f32>() > 8.0;
    for (first, last) in &mut found {
        while !on(*first) {
            *first += 1;
        }
        while *first > 0 && on(*first - 1) {
            *first -= 1;
        }
        while !on(*last) {
            *last -= 1;
        }
        while *last + 1 < trace.loads.len() && on(*last + 1) {
            *last += 1;
        }
    }
    found
}

/// Mean shares over all readings of a passage with every plate loaded and the total within 4 % of its median.
fn slow_shares(trace: &Trace, (first, last): (usize, usize)) -> [f32; 4] {
    let smooth = &smooth(trace)[first..=last];
    let mut totals: Vec<f32> = smooth.iter().map(|loads| loads.iter().sum()).collect();
    totals.sort_by(f32::total_cmp);
    let median = totals[totals.len() / 2];
    let mut sum = [0.0_f64; 4];
    for loads in smooth {
        let total: f32 = loads.iter().sum();
        if (total - median).abs() < 0.04 * median && loads.iter().all(|x| *x > 0.025 * median) {
            sum.iter_mut().zip(loads).for_each(|(sum, x)| *sum += f64::from(*x));
        }
    }
    let all: f64 = sum.iter().sum();
    sum.map(|x| (100.0 * x / all) as f32)
}

#[test]
fn streaming_finds_what_the_slow_way_finds() {
    for rate in [20.0, 50.0, 200.0] {
        let mut noise = Noise(42);
        let mut trace = Trace::new(rate).empty(2.0);
        for seed in 0..30 {
            let pick = noise.uniform();
            let part = if pick < 0.4 {
                Cow { stride: 1.1 + 0.6 * noise.uniform(), weight: 450.0 + 300.0 * noise.uniform(), ..SOUND }
                    .crosses(rate)
            } else {
                let seconds = 3.0 + 10.0 * noise.uniform();
                sways(rate, seconds, [28.0, 26.0, 25.0, 21.0], 0.5, 1.0, seed)
            };
            trace = trace.then(&part).empty(3.0 * noise.uniform());
        }
        let trace = trace.noisy(0.4, 7);
        let (fast, slow) = (analysed(&trace), slow_passages(&trace));
        assert_eq!(fast.len(), slow.len(), "{rate} Hz");
        for (fast, slow) in fast.iter().zip(slow) {
            let ms = |i: usize| START_MS + (i as f32 * 1000.0 / rate).round() as u64;
            let end = fast.start.0 + fast.duration.0;
            assert!(fast.start.0.abs_diff(ms(slow.0)) <= 50, "{} {}", fast.start.0, ms(slow.0));
            assert!(end.abs_diff(ms(slow.1)) <= 50, "{end} {}", ms(slow.1));
            if let Some(standing) = fast.standing {
                for (fast, slow) in standing.share_pct.0.iter().zip(slow_shares(&trace, slow)) {
                    assert!((fast - slow).abs() < 0.35, "{fast} {slow}");
                }
            }
        }
    }
}
