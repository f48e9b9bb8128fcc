//! What lay on each plate over some readings.

use shared::{
    analysis::Calibration,
    plate::{PerPlate, Plate},
    units::Counts,
    wire::Sample,
};

/// Over some readings, by plate.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlateLoads {
    /// Mean load, kg.
    pub mean_kg: [f64; 4],
    /// SD of the load, kg.
    pub sd_kg: [f64; 4],
    /// Plates whose converter was at its end stop.
    pub end_stop: [bool; 4],
}

impl PlateLoads {
    /// Of readings in counts.
    #[must_use]
    pub fn of(samples: &[Sample], calibration: &Calibration, full_scale: u32) -> Self {
        let count = samples.len().max(1) as f64;
        let weighed: Vec<[f64; 4]> = samples
            .iter()
            .map(|sample| {
                calibration.apply(PerPlate(sample.values.0.map(Counts))).0.map(|load| f64::from(load.0))
            })
            .collect();
        let mean_kg =
            Plate::ALL.map(|plate| weighed.iter().map(|loads| loads[plate as usize]).sum::<f64>() / count);
        let sd_kg = Plate::ALL.map(|plate| {
            let off = |loads: &[f64; 4]| loads[plate as usize] - mean_kg[plate as usize];
            (weighed.iter().map(|loads| off(loads).powi(2)).sum::<f64>() / count).sqrt()
        });
        let end_stop = Plate::ALL
            .map(|plate| samples.iter().any(|sample| sample.values[plate].unsigned_abs() >= full_scale));
        Self { mean_kg, sd_kg, end_stop }
    }
}
