//! What the farm's own cases teach: the effect of a block, and how long recovery usually takes.

use crate::case::before_after::model::{Normal, USUAL_HALF_TIME};

/// Effect of a block on a sound cow's leg load, % of usual.
///
/// Source: between-limb difference 8.52 +/- 6.19 -> 20.69 +/- 17.01 % on 17 sound cows (Pluss 2021), so 12.17 points.
/// The abstract does not give the formula of the difference; taken as the symmetry index 100 (R-L) / (0.5 (R+L)), a
/// change of 12.17 points is 6.1 % of the usual load on each leg of the pair. SD between cows: sqrt(17.01^2 - 6.19^2) =
/// 15.8 points, 7.9 %. The source gives no sign, so neither is preferred: mean zero, and both together in the SD,
/// sqrt(6.1^2 + 7.9^2) = 10.0. The score reads it alike (`BLOCK_POINTS`).
pub const PUBLISHED_BLOCK: Normal = Normal { mean: 0.0, sd: 10.0 };
/// Cows behind the published effect.
const PUBLISHED_COWS: f64 = 17.0;
/// How many own cases the usual half-time weighs (our choice).
const HALF_TIME_CASES: f64 = 4.0;

/// The effect of a block expected of the farm's next cow: published effect and own cows, each by its weight.
///
/// `own` are effects seen when blocks came off, with the SD of each measurement.
#[must_use]
pub fn block(own: &[Normal]) -> Normal {
    let between = PUBLISHED_BLOCK.sd.powi(2);
    let mut precision = PUBLISHED_COWS / between;
    let mut weighted = PUBLISHED_BLOCK.mean * precision;
    for one in own {
        let weight = 1.0 / (between + one.sd.powi(2));
        precision += weight;
        weighted += one.mean * weight;
    }
    let mean = weighted / precision;
    // Spread between cows: the published one, drawn towards what is seen here beyond measurement error.
    let seen: f64 = own.iter().map(|one| (one.mean - mean).powi(2) - one.sd.powi(2)).sum();
    let n = own.len() as f64;
    let spread = ((PUBLISHED_COWS * between + seen) / (PUBLISHED_COWS + n)).max(0.1 * between);
    Normal { mean, sd: (spread + 1.0 / precision).sqrt() }
}

/// Usual half-time (median in days, SD of the logarithm) from the half-times of finished cases.
#[must_use]
pub fn half_time(own: &[f64]) -> (f64, f64) {
    let logs: Vec<f64> = own.iter().filter(|h| h.is_finite() && **h > 0.0).map(|h| h.ln()).collect();
    let n = logs.len() as f64;
    let (median, sd) = USUAL_HALF_TIME;
    let mean = (HALF_TIME_CASES * median.ln() + logs.iter().sum::<f64>()) / (HALF_TIME_CASES + n);
    let squares: f64 = logs.iter().map(|log| (log - mean).powi(2)).sum();
    (mean.exp(), ((HALF_TIME_CASES * sd * sd + squares) / (HALF_TIME_CASES + n)).sqrt())
}

/// Part of the deviation that is usually left after `days`: from the fast tenth to the slow tenth of cases.
#[must_use]
pub fn band(half_time: (f64, f64), days: f64) -> (f64, f64) {
    const TENTH: f64 = 1.281_551_565_544_6;
    let left = |z: f64| (-days / (half_time.0 * (z * half_time.1).exp())).exp2();
    (left(-TENTH), left(TENTH))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn without_own_cows_the_published_effect_stands() {
        let prior = block(&[]);
        assert!(prior.mean.abs() < 1e-12);
        assert!(prior.sd > 10.0 && prior.sd < 10.4);
    }

    #[test]
    fn own_cows_draw_the_effect_towards_themselves() {
        let own = vec![Normal { mean: 12.0, sd: 1.0 }; 30];
        let learned = block(&own);
        // 30 cows of 12 % with a weight of 1/101 each, 17 published ones of 0 with 1/100.
        assert!((learned.mean - (30.0 * 12.0 / 101.0) / (30.0 / 101.0 + 0.17)).abs() < 1e-9);
        assert!(learned.sd < PUBLISHED_BLOCK.sd);
    }

    #[test]
    fn the_band_narrows_down_with_quick_cases() {
        let quick = half_time(&[5.0; 40]);
        assert!(quick.0 < 6.5);
        assert!(band(quick, 14.0).1 < band(USUAL_HALF_TIME, 14.0).1);
        let (low, high) = band(USUAL_HALF_TIME, 14.0);
        assert!(low < 0.5 && 0.5 < high);
    }
}
