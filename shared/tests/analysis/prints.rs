//! Feet by the ground they tread: where the prints fall decides which plates a foot loads.

use crate::support::{Noise, Trace, analysed};
use shared::plate::Leg;

/// A cow walking over prints a stride apart; the hind foot takes the print of the fore foot of its side, give or
/// take `overstep`, three quarters of a stride later (a lateral walk; fore foot and hind foot never meet on a print).
struct Walk {
    stride_m: f32,
    stride_s: f32,
    duty: f32,
    /// First left print, m from the entry.
    first_m: f32,
    overstep_m: f32,
    plate_m: f32,
}

const WEIGHT_KG: f32 = 600.0;
/// Half the length of a foot, m.
const HALF_FOOT_M: f32 = 0.06;
/// Loads that tell the legs apart, % of weight.
const SHARES: [f32; 4] = [31.0, 27.0, 19.0, 23.0];

impl Walk {
    fn draw(noise: &mut Noise, plate_m: f32) -> Self {
        let stride_m = 1.2 + 0.35 * noise.uniform();
        Self {
            stride_m,
            stride_s: 1.1 + 0.5 * noise.uniform(),
            duty: 0.6 + 0.08 * noise.uniform(),
            first_m: stride_m * noise.uniform(),
            overstep_m: 0.2 * (noise.uniform() - 0.5),
            plate_m,
        }
    }

    /// On, off, where, of every footfall of a leg.
    fn footfalls(&self, leg: usize) -> impl Iterator<Item = (f32, f32, f32)> + '_ {
        let (right, hind) = ((leg % 2) as f32, (leg / 2) as f32);
        (-3..7).map(move |k| {
            let strides = k as f32 + 0.5 * right;
            let on = (strides + 0.75 * hind) * self.stride_s;
            (
                on,
                on + self.duty * self.stride_s,
                self.first_m + strides * self.stride_m + hind * self.overstep_m,
            )
        })
    }

    /// Share of a print on the rear and on the front plate.
    fn parts(&self, x: f32) -> [f32; 2] {
        [0.0, self.plate_m].map(|low| {
            let over = (x + HALF_FOOT_M).min(low + self.plate_m) - (x - HALF_FOOT_M).max(low);
            (over / (2.0 * HALF_FOOT_M)).clamp(0.0, 1.0)
        })
    }

    /// How firm each foot is on the ground, and the parts of it on the plates of its side.
    fn grips(&self, t: f32) -> [(f32, [f32; 2]); 4] {
        let edge = 0.15 * self.duty * self.stride_s;
        let mut grips = [(0.0, [0.0; 2]); 4];
        for (leg, grip) in grips.iter_mut().enumerate() {
            for (on, off, x) in self.footfalls(leg).filter(|(on, off, _)| t >= *on && t < *off) {
                let firm = ((t - on) / edge).min((off - t) / edge).min(1.0);
                *grip = (firm * SHARES[leg], self.parts(x));
            }
        }
        grips
    }

    fn trace(&self, rate_hz: f32) -> Trace {
        let lead = 2.0 + 3.0 * self.stride_s;
        let mut trace = Trace::new(rate_hz);
        for i in 0..((lead + 8.0 * self.stride_s) * rate_hz) as usize {
            let t = i as f32 / rate_hz - lead;
            let grips = self.grips(t);
            let all: f32 = grips.iter().map(|(firm, _)| firm).sum();
            let mut loads = [0.0; 4];
            for (leg, (firm, parts)) in grips.into_iter().enumerate().filter(|_| all > 0.0) {
                loads[2 + leg % 2] += WEIGHT_KG * firm * parts[0] / all;
                loads[leg % 2] += WEIGHT_KG * firm * parts[1] / all;
            }
            trace.loads.push(loads);
        }
        trace
    }

    /// Peaks of a leg's whole prints, % of weight, in the order of landing; and whether some print lies on an edge.
    fn prints(&self, leg: usize) -> (Vec<f32>, bool) {
        let mut peaks = Vec::new();
        let mut on_edge = false;
        for (on, off, x) in self.footfalls(leg) {
            let parts = self.parts(x);
            on_edge |= parts.into_iter().any(|part| part > 0.001 && part < 0.999);
            if parts.into_iter().any(|part| part >= 0.999) {
                let within = (0..100).map(|i| self.grips(on + (off - on) * i as f32 / 100.0));
                peaks.push(
                    within.map(|g| 100.0 * g[leg].0 / g.map(|g| g.0).iter().sum::<f32>()).fold(0.0, f32::max),
                );
            }
        }
        (peaks, on_edge)
    }
}

/// What became of the crossings of one deck.
#[derive(Debug, Default)]
struct Count {
    crossings: u32,
    trusted: u32,
    wrong: u32,
    /// Errors of the weight in its own standard errors.
    weights: Vec<f32>,
}

/// Crossings of a deck whose plates are so long: those whose prints all lie within a plate and give each leg one, and the others.
fn crossings(plate_m: f32, tolerance: f32) -> [Count; 2] {
    let mut noise = Noise(7);
    let mut counts = [Count::default(), Count::default()];
    for seed in 0..1000 {
        let walk = Walk::draw(&mut noise, plate_m);
        let truth: Vec<_> = (0..4).map(|leg| walk.prints(leg)).collect();
        let clean = truth.iter().all(|(peaks, on_edge)| !peaks.is_empty() && !on_edge);
        let count = &mut counts[usize::from(!clean)];
        count.crossings += 1;
        let passages = analysed(&walk.trace(100.0).noisy(0.5, seed));
        let [passage] = passages.as_slice() else { continue };
        if passage.quality.trusted() {
            count.trusted += 1;
            let right = Leg::ALL.into_iter().zip(&truth).all(|(leg, (peaks, on_edge))| {
                let walked = passage.walking[leg];
                let mean = peaks.iter().sum::<f32>() / peaks.len() as f32;
                (walked.peak_pct / mean - 1.0).abs() < tolerance
                    && (*on_edge || usize::from(walked.count) == peaks.len())
            });
            count.wrong += u32::from(!right);
            let weight = passage.body_weight.expect("a weight");
            count.weights.push((weight.value - WEIGHT_KG) / weight.se);
        }
    }
    counts
}

#[test]
fn feet_are_told_whatever_plates_a_stride_skips() {
    for plate_m in [0.9, 1.0, 1.1, 1.25] {
        let [clean, on_edge] = crossings(plate_m, 0.15);
        assert!(clean.crossings > 300, "{clean:?}");
        assert_eq!((clean.trusted, clean.wrong), (clean.crossings, 0), "{plate_m} m");
        assert!(clean.weights.iter().all(|z| z.abs() < 1.0), "{plate_m} m: {:?}", clean.weights);
        // A foot half beside the deck and with no other print on it looks like one that bears less.
        let wrong = f64::from(on_edge.wrong) / f64::from(on_edge.trusted);
        assert!(on_edge.trusted > 300 && wrong < 0.2, "{plate_m} m: {wrong}");
        let square = on_edge.weights.iter().map(|z| z * z).sum::<f32>() / on_edge.weights.len() as f32;
        assert!(square.sqrt() < 1.0, "{plate_m} m: {square}");
    }
}
