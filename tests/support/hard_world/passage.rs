//! A passage of the hard herd as a row of the passage table, without standard errors, as another lane might give it.

use crate::hard_world::Weather;
use crate::hard_world::cow::Cow;
use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, Normal, Poisson, StudentT};

/// The columns given.
pub const HEADER: &str = "animal_id,time,duration_s,kind,quality,body_weight_kg,\
    lf_share_pct,rf_share_pct,lr_share_pct,rr_share_pct,standing_s,front_shifts,rear_shifts,\
    lf_lifts,rf_lifts,lr_lifts,rr_lifts,\
    lf_contacts,lf_peak_pct,lf_contact_s,rf_contacts,rf_peak_pct,rf_contact_s,\
    lr_contacts,lr_peak_pct,lr_contact_s,rr_contacts,rr_peak_pct,rr_contact_s";

/// What follows name and time.
pub fn row(rng: &mut ChaCha8Rng, cow: &Cow, weather: Weather) -> String {
    let heavy = StudentT::new(5.0_f64).expect("freedom");
    let wobble = |sd: f64, rng: &mut ChaCha8Rng| {
        let drawn: f64 = heavy.sample(rng);
        sd * drawn.clamp(-6.0, 6.0) / 1.29
    };
    let stands = rng.random::<f64>() < cow.stands;
    let (restless, slow) = cow.unrest();
    let slow = slow + 0.12 * weather.wet;
    let weight = cow.weight + Normal::new(0.0, 17.0).expect("a width").sample(rng);
    let standing = if stands { rng.random_range(3.0..14.0) } else { 0.0 };
    let kind = if stands { "stance" } else { "walk_through" };
    let mut cells = vec![
        format!("{:.2}", 4.0 * slow + standing),
        kind.to_owned(),
        "good".to_owned(),
        format!("{weight:.1}"),
    ];
    if stands {
        let noise = cow.noise * (1.0 + 0.3 * weather.heat);
        let mut shares = cow.shares().map(|share| share + wobble(noise, rng));
        let sum: f64 = shares.iter().sum();
        shares.iter_mut().for_each(|share| *share *= 100.0 / sum);
        cells.extend(shares.map(|share| format!("{share:.3}")));
        cells.push(format!("{standing:.1}"));
        let count = |a_minute: f64, rng: &mut ChaCha8Rng| {
            let mean: f64 = (a_minute * restless * (1.0 + weather.heat) * standing / 60.0).max(1e-6);
            (Poisson::new(mean).expect("a rate").sample(rng) as u32).to_string()
        };
        cells.push(count(0.6 * cow.restless, rng));
        cells.push(count(cow.restless, rng));
        (0..4).for_each(|_| cells.push(count(0.8, rng)));
    } else {
        cells.extend(vec![String::new(); 4]);
        cells.push("0".to_owned());
        cells.extend(vec!["0".to_owned(); 6]);
    }
    for (leg, peak) in cow.walking().into_iter().enumerate() {
        let contacts = if stands { 1 } else { rng.random_range(1..3) };
        let time = (if leg < 2 { 0.74 } else { 0.70 }) * slow + wobble(0.05, rng);
        cells.push(contacts.to_string());
        cells.push(format!("{:.3}", peak + wobble(1.7, rng)));
        cells.push(format!("{:.3}", time.max(0.2)));
    }
    cells.join(",")
}
