//! Measured force curves, put on the plates as the feet of a walking animal: every contact is found, none is parted at
//! its own valley, and peak, impulse and time agree with the curve integrated directly.
//!
//! Source of the curves: PyPI `spm1d` 0.4.55 (Pataky 2008), read where `tests/setup` installs it; the figures they are held
//! against are NumPy's and SciPy's (`tests/oracles/force_curves.py`).

#![allow(clippy::print_stdout, reason = "the figures are what it is run for")]

use shared::{
    analysis::{Analyser, PassageSummary, Reading},
    plate::{Leg, PerPlate},
    units::{Kilograms, Milliseconds},
};
use std::{fs, path::PathBuf};

const RATE_HZ: f64 = 100.0;
const WEIGHT_KG: f64 = 700.0;
/// The largest force under a foot, share of body weight.
const PEAK_SHARE: f64 = 0.55;
/// Share of the stride a foot is on the ground.
const DUTY: f64 = 0.65;
/// Fore feet on the rear plates, then on the front plates, hind feet three quarters of a stride behind (a lateral walk):
/// leg, plate, landing in strides.
const FOOTFALLS: [(usize, usize, f64); 8] = [
    (0, 2, 0.0),
    (1, 3, 0.5),
    (2, 2, 0.75),
    (0, 0, 1.0),
    (3, 3, 1.25),
    (1, 1, 1.5),
    (2, 0, 1.75),
    (3, 1, 2.25),
];

/// One trial: 101 points over a stance, scaled to kg, with NumPy's mean of it and SciPy's peak behind the low-pass.
struct Curve {
    kg: Vec<f64>,
    mean: f64,
    peak: f64,
    filtered_peak: f64,
}

impl Curve {
    fn at(&self, part: f64) -> f64 {
        if !(0.0..1.0).contains(&part) {
            return 0.0;
        }
        let place = part * (self.kg.len() - 1) as f64;
        let below = place as usize;
        self.kg[below] + (place - below as f64) * (self.kg[below + 1] - self.kg[below])
    }
}

struct Person {
    curves: Vec<Curve>,
    scale: f64,
    rise: f64,
    speeds: Vec<f64>,
}

/// The numbers of a NumPy file of format 1, 8 bytes each, row after row or column after column.
fn numbers(name: &str, by_column: bool) -> Vec<f64> {
    let packages = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../target/oracles/lib");
    let python = fs::read_dir(packages).expect("run tests/setup first").next().expect("a Python").unwrap();
    let file = python.path().join("site-packages/spm1d/data/datafiles").join(name);
    let bytes = fs::read(file).expect("run tests/setup first");
    let header = usize::from(u16::from_le_bytes([bytes[8], bytes[9]]));
    let text = std::str::from_utf8(&bytes[10..10 + header]).unwrap();
    let order = if by_column { "'fortran_order': True" } else { "'fortran_order': False" };
    assert!(text.contains("'<f8'") && text.contains(order), "{text}");
    bytes[10 + header..].chunks_exact(8).map(|c| f64::from_le_bytes(c.try_into().unwrap())).collect()
}

fn people(stance_s: f64) -> Vec<Person> {
    let stance = format!("{stance_s:?}");
    let recorded: serde_json::Value =
        serde_json::from_str(include_str!("oracles/force_curves.json")).unwrap();
    let figures = |value: &serde_json::Value| -> Vec<f64> {
        value.as_array().unwrap().iter().map(|x| x.as_f64().unwrap()).collect()
    };
    let speeds = numbers("ex_grf_speeds.npy", true);
    let recorded = recorded["people"].as_array().unwrap();
    let people = recorded.iter().enumerate().map(|(person, recorded)| {
        let (peaks, means) = (figures(&recorded["peaks"]), figures(&recorded["means"]));
        let scale = PEAK_SHARE * WEIGHT_KG / peaks.iter().copied().fold(0.0, f64::max);
        let forces = numbers(&format!("ex_grf_subj{person:03}.npy"), false);
        let filtered_peaks = figures(&recorded["filtered_peaks"][&stance]);
        let curves = forces.chunks_exact(101).zip(filtered_peaks).zip(peaks).zip(means).map(
            |(((force, filtered), peak), mean)| Curve {
                kg: force.iter().map(|x| scale * x).collect(),
                mean: scale * mean,
                peak: scale * peak,
                filtered_peak: scale * filtered,
            },
        );
        Person {
            curves: curves.collect(),
            scale,
            rise: recorded["rise"][&stance].as_f64().unwrap(),
            speeds: speeds[60 * person..60 * (person + 1)].to_vec(),
        }
    });
    people.collect()
}

/// Readings of the plates while `feet` fall on them: curve, plate, landing and length of each, s.
fn played(feet: &[(&Curve, usize, f64, f64)]) -> Vec<PassageSummary> {
    let mut analyser = Analyser::new(RATE_HZ as f32);
    let mut all = Vec::new();
    let seconds = 4.0 + feet.iter().map(|foot| foot.2 + foot.3).fold(0.0, f64::max);
    for reading in 0..(seconds * RATE_HZ) as u32 {
        let t = f64::from(reading) / RATE_HZ - 2.0;
        let mut loads = [0.0; 4];
        for (curve, plate, landing, length) in feet {
            loads[*plate] += curve.at((t - landing) / length);
        }
        analyser.push(&Reading {
            time: Milliseconds(1_000_000 + u64::from(reading) * 10),
            loads: PerPlate(loads.map(|kg| Kilograms(kg as f32))),
            saturated: PerPlate::default(),
        });
        all.extend(analyser.ended());
    }
    all.extend(analyser.finish());
    all
}

fn slope(x: &[f64], y: &[f64]) -> f64 {
    let mean = |v: &[f64]| v.iter().sum::<f64>() / v.len() as f64;
    let (mx, my) = (mean(x), mean(y));
    let sum = |f: &dyn Fn(f64, f64) -> f64| x.iter().zip(y).map(|(x, y)| f(*x, *y)).sum::<f64>();
    sum(&|x, y| (x - mx) * (y - my)) / sum(&|x, _| (x - mx) * (x - mx))
}

/// What of a stance length came out as it should.
struct Told {
    passages: usize,
    found: usize,
    /// Trusted, but not with two contacts a leg.
    misread: usize,
    /// Peak less SciPy's behind the same low-pass, % of body weight.
    peak_errors: Vec<f64>,
    /// Peak less that of the curve itself: what the low-pass takes, % of body weight.
    losses: Vec<f64>,
    impulse_errors: Vec<f64>,
    stance_errors_s: Vec<f64>,
    /// Rise of the peak with speed against SciPy's, by person.
    rise_errors: Vec<f64>,
}

/// Crossings of four trials in turn, so that each trial is trod by every leg; a foot is on the ground for `duty` of a stride.
fn crossings(stance_s: f64, duty: f64) -> Told {
    let mut told = Told {
        passages: 0,
        found: 0,
        misread: 0,
        peak_errors: vec![],
        losses: vec![],
        impulse_errors: vec![],
        stance_errors_s: vec![],
        rise_errors: vec![],
    };
    for person in people(stance_s) {
        let mut seen = vec![];
        for first in 0..person.curves.len() {
            let curve = |leg: usize| &person.curves[(first + leg) % person.curves.len()];
            let stride_s = stance_s / duty;
            let feet = FOOTFALLS.map(|(leg, plate, at)| (curve(leg), plate, at * stride_s, stance_s));
            let passages = played(&feet);
            told.passages += 1;
            let [passage] = passages.as_slice() else { continue };
            if !passage.quality.trusted() {
                continue;
            }
            if passage.walking.0.iter().any(|leg| leg.count != 2) {
                told.misread += 1;
                continue;
            }
            told.found += 1;
            let weight = f64::from(passage.body_weight.expect("a weight").value);
            let kg = |pct: f32| f64::from(pct) * weight / 100.0;
            for leg in Leg::ALL {
                let (walked, curve) = (passage.walking[leg], curve(leg as usize));
                told.peak_errors.push(100.0 * (kg(walked.peak_pct) - curve.filtered_peak) / WEIGHT_KG);
                told.losses.push(100.0 * (curve.peak - kg(walked.peak_pct)) / WEIGHT_KG);
                told.impulse_errors.push(kg(walked.impulse_pct_s) / (curve.mean * stance_s) - 1.0);
                told.stance_errors_s.push(f64::from(walked.stance_s) - stance_s);
            }
            seen.push((person.speeds[first], kg(passage.walking[Leg::LF].peak_pct)));
        }
        let (speeds, peaks): (Vec<f64>, Vec<f64>) = seen.into_iter().unzip();
        told.rise_errors.push(slope(&speeds, &peaks) / (person.scale * person.rise) - 1.0);
    }
    told
}

fn worst(errors: &[f64]) -> f64 {
    errors.iter().fold(0.0, |worst, error| worst.max(error.abs()))
}

#[test]
fn every_measured_curve_is_one_contact_and_its_measures_agree() {
    for stance_s in [0.6, 0.8, 1.0, 1.3] {
        let told = crossings(stance_s, DUTY);
        let mut losses = told.losses.clone();
        losses.sort_by(f64::total_cmp);
        let loss = losses[losses.len() / 2];
        println!(
            "stance {stance_s} s: {} of {} crossings with two contacts a leg; at worst: peak {:.2} % of body weight, impulse \
             {:.2} %, time {:.0} ms, rise of the peak with speed {:.1} %; the low-pass takes {:.2} % of body weight (median)",
            told.found,
            told.passages,
            worst(&told.peak_errors),
            100.0 * worst(&told.impulse_errors),
            1000.0 * worst(&told.stance_errors_s),
            100.0 * worst(&told.rise_errors),
            loss,
        );
        assert_eq!(told.passages, 600);
        assert!(told.found >= 597 && told.misread <= 2, "{} told, {} misread", told.found, told.misread);
        assert!(worst(&told.peak_errors) < 0.2);
        assert!(worst(&told.impulse_errors) < 0.006);
        // A foot is on from 10 kg; a slow heel gets there late.
        assert!(worst(&told.stance_errors_s) < 0.1 * stance_s.max(1.3));
        assert!(worst(&told.rise_errors) < 0.02);
    }
}

/// A hind foot that lands before the fore foot has left the print: two feet, though the plate is never empty between.
#[test]
fn a_foot_that_takes_the_place_of_another_is_still_told() {
    for stance_s in [0.6, 0.8, 1.0, 1.3] {
        let told = crossings(stance_s, 0.79);
        println!(
            "stance {stance_s} s, .04 of a stride together on a print: {} of {} told, {} misread, the others not trusted",
            told.found, told.passages, told.misread
        );
        assert!(
            told.found >= 300 && told.misread <= 100,
            "{stance_s} s: {} told, {} misread",
            told.found,
            told.misread
        );
    }
}
