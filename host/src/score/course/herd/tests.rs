//! By hand, on a herd of which nothing is known but what the case sets.

use super::*;
use crate::record::AnimalId;
use crate::score::model::features::{Class, MovementCounts};

fn near(found: f64, wanted: f64) {
    assert!((found - wanted).abs() < 1e-9 * wanted.abs().max(1.0), "{found} {wanted}");
}

fn cows(count: usize) -> Vec<Track> {
    (0..count).map(|cow| Track::new(AnimalId(format!("{:015}", 999_000_000_000_000 + cow)))).collect()
}

fn passage(measured: Measured) -> IndexedPassage {
    IndexedPassage { lane: 0, hour: 0, measured }
}

// Sixty passages count half.
#[test]
fn an_hour_counts_by_its_passages() {
    let mut herd = Herd::new(ObserverPrior::default());
    (herd.hours[4].mean[3], herd.hours[4].seen[3]) = (4.0, 60.0);
    assert_eq!((herd.hour_shift(4)[3], herd.hour_shift(4)[2], herd.hour_shift(5)[3]), (2.0, 0.0, 0.0));
}

// 3 and -1, seen once and three times, have the middle 0; 4 and 2, once each, the middle 3.
#[test]
fn what_all_hours_share_belongs_to_the_cows() {
    for (hours, wanted) in [([(3.0, 1.0), (-1.0, 3.0)], [3.0, -1.0]), ([(4.0, 1.0), (2.0, 1.0)], [1.0, -1.0])]
    {
        let mut herd = Herd::new(ObserverPrior::default());
        for (hour, (mean, seen)) in hours.into_iter().enumerate() {
            (herd.hours[hour].mean[MEASURES], herd.hours[hour].seen[MEASURES]) = (mean, seen);
        }
        herd.centre_hours();
        assert_eq!([0, 1, 2].map(|hour| herd.hours[hour].mean[MEASURES]), [wanted[0], wanted[1], 0.0]);
    }
}

// Two passages with variances of 12.25 + 3.75 and, for a short stance, 36 + 12: 10 and 30 weigh 3 to 1.
#[test]
fn on_its_first_day_the_herd_is_what_it_shows() {
    let shown = |class: Class, stated: f64, value: f64| {
        let mut measured = Measured { class, ..Measured::NOTHING };
        (measured.value[1], measured.stated[1]) = (value, stated);
        passage(measured)
    };
    let of_cow = vec![shown(Class::Long, 3.75, 10.0), shown(Class::Short, 12.0, 30.0)];
    let tracks = cows(2);
    let mut herd = Herd::new(ObserverPrior::default());
    first_prior(&mut herd, &tracks, &[vec![], vec![]], 0, &|ready| ready.measured);
    assert!(!herd.prior_known, "nobody came");
    let without_hour = |ready: &IndexedPassage| {
        let mut measured = ready.measured;
        measured.value[1] -= 1.0;
        measured
    };
    first_prior(&mut herd, &tracks, &[of_cow, vec![]], 0, &without_hour);
    assert!(herd.prior_known);
    let mut value = [f64::NAN; MEASURES];
    let mut error = [0.0; MEASURES];
    (value[1], error[1]) = (14.0, 12.0);
    let group = tracks[0].group(0);
    let mut wanted = HerdPrior::new();
    wanted.learn(&[(group, value, error)]);
    for (found, wanted) in [
        (herd.prior.of(group).mean[1], wanted.of(group).mean[1]),
        (herd.prior.of(group).variance[1], wanted.of(group).variance[1]),
    ] {
        assert!((found - wanted).abs() < 1e-5, "{found} {wanted}");
    }
}

// Ten minutes with 30 shifts of the rear pair where 10 are usual: (30 + 20) / (10 + 20); of what is not counted, 20 / 20.
#[test]
fn a_restless_herd_is_not_many_lame_cows() {
    let mut herd = Herd::new(ObserverPrior::default());
    let counts = |minutes: f64, shifts: f64| {
        let counts = MovementCounts { minutes, shifts: [minutes, shifts], lifts: [0.2 * minutes; 4] };
        passage(Measured { counts, ..Measured::NOTHING })
    };
    let by_cow = [vec![counts(4.0, 18.0), counts(0.0, 100.0)], vec![counts(6.0, 12.0)]];
    let counted = herd_events(&mut herd, &cows(2), &by_cow);
    for (found, wanted) in counted.into_iter().zip([1.0, 50.0 / 30.0, 1.0, 1.0, 1.0, 1.0]) {
        near(found, wanted);
    }
    // Ten minutes of the first guess, a hundredth forgotten, and today's.
    near(herd.rates[1].per_minute(), (9.9 + 30.0) / (9.9 + 10.0));
    near(herd.new_rates()[1].per_minute(), (9.9 + 30.0) / (9.9 + 10.0));
}
