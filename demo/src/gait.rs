//! Where and when each foot lands, and how a foot's force rises and falls while it is down.
//!
//! The front foot of the leading side lands first; the hind foot of a side takes the print of its front foot three
//! quarters of a stride later. A cow that stops stands on the prints where her four feet have a plate each; one that
//! walks through treads where her stride falls, so that a plate may be skipped and a print lie half on an edge.

use crate::bearing::Gait;
use crate::random::Random;
use shared::plate::Leg;
use std::f64::consts::PI;

/// Length of the deck and of its rear row of plates, m (a deck of 2.5 m; our choice).
pub const DECK_M: f64 = 2.5;
/// Where the rear row ends and the front row begins, m from the entry.
pub const SEAM_M: f64 = 1.25;
/// Half the length of a foot, m (our choice).
pub const HALF_FOOT_M: f64 = 0.06;

/// One foot's time on the ground.
#[derive(Clone, Copy, Debug)]
pub struct Footfall {
    /// The leg.
    pub leg: Leg,
    /// Landing, s.
    pub on: f64,
    /// Lifting, s.
    pub off: f64,
    /// Middle of the print, m from the entry; below zero or above [`DECK_M`] is off the deck.
    pub x: f64,
    /// How long a contact of this leg takes while walking, s.
    pub walking_s: f64,
}

impl Footfall {
    /// Part of the print on the deck's rear row and on its front row.
    #[must_use]
    pub fn parts(&self) -> (f64, f64) {
        let overlap = |low: f64, high: f64| {
            let length = (self.x + HALF_FOOT_M).min(high) - (self.x - HALF_FOOT_M).max(low);
            (length / (2.0 * HALF_FOOT_M)).clamp(0.0, 1.0)
        };
        (overlap(0.0, SEAM_M), overlap(SEAM_M, DECK_M))
    }

    fn on_deck(&self) -> bool {
        let (rear, front) = self.parts();
        rear + front > 0.0
    }

    /// How far through the contact she is, 0..1, held at mid-stance where she stands; `None` while the foot is up.
    #[must_use]
    pub fn progress(&self, t: f64) -> Option<f64> {
        if t < self.on || t >= self.off {
            return None;
        }
        let (since, left) = ((t - self.on) / self.walking_s, (self.off - t) / self.walking_s);
        Some(if since + left <= 1.0 + 1e-9 { since } else { since.min(0.5).max(1.0 - left) })
    }
}

/// Force of a front foot through its contact, relative: one peak at about mid-stance. Source: Scott 1988.
#[must_use]
pub fn front_curve(u: f64) -> f64 {
    libm::pow(libm::sin(PI * u).max(0.0), 0.4)
}

/// Force of a hind foot through its contact, relative: two peaks at about a quarter and three quarters, the second
/// slightly smaller. Source: Scott 1988.
#[must_use]
pub fn hind_curve(u: f64) -> f64 {
    let edge = libm::pow(libm::sin(PI * u).max(0.0), 0.3);
    edge * (1.0 - 0.15 * (libm::cos(4.0 * PI * u) + 1.0) / 2.0) * (1.03 - 0.06 * u)
}

/// All footfalls of one crossing.
#[derive(Clone, Debug)]
pub struct Plan {
    /// Contacts, also those off the deck before and after.
    pub footfalls: Vec<Footfall>,
    /// From when to when she stands on all four plates, s.
    pub stance: Option<(f64, f64)>,
    /// First foot on the deck and last foot off it, s.
    pub span: (f64, f64),
}

/// Where the leading front foot first lands, m; a cow that stands has all prints within their plates.
fn first_print(stride_m: f64, stands: bool, across: bool, random: &mut Random) -> f64 {
    if across {
        // The leading front foot's second print, or the other's first, lies on the seam.
        let on_seam = SEAM_M + random.uniform(-0.03, 0.03);
        return if random.chance(0.5) && stride_m < 1.2 {
            on_seam - stride_m
        } else {
            on_seam - stride_m / 2.0
        };
    }
    if !stands {
        return random.uniform(0.0, stride_m);
    }
    let clear = HALF_FOOT_M + 0.02;
    let low = (SEAM_M + clear - stride_m).max(DECK_M + clear - 2.0 * stride_m).max(clear);
    let high =
        (SEAM_M - clear - stride_m / 2.0).min(DECK_M - clear - 1.5 * stride_m).min(stride_m / 2.0 - clear);
    if low < high { random.uniform(low, high) } else { 0.5 * (low + high) }
}

impl Plan {
    /// Whether each leg has a print within a plate and none lies across the seam: her feet can be told and measured.
    #[must_use]
    pub fn clean(&self) -> bool {
        let within = |f: &Footfall| {
            let (rear, front) = f.parts();
            rear.max(front) > 0.999
        };
        let across = |f: &Footfall| {
            let (rear, front) = f.parts();
            rear.min(front) > 0.0
        };
        Leg::ALL.into_iter().all(|leg| self.footfalls.iter().any(|f| f.leg == leg && within(f)))
            && !self.footfalls.iter().any(across)
    }
}

/// Plans a crossing; `across` puts one foot on the seam.
pub fn plan(gait: &Gait, stance_s: Option<f64>, across: bool, random: &mut Random) -> Plan {
    let stride_m = gait.stride_m.clamp(0.95, 1.44);
    let x0 = first_print(stride_m, stance_s.is_some(), across, random);
    let (lead, other) = if random.chance(0.5) {
        ([Leg::LF, Leg::LR], [Leg::RF, Leg::RR])
    } else {
        ([Leg::RF, Leg::RR], [Leg::LF, Leg::LR])
    };
    let stride = gait.stride_s;
    // (leg, landing in strides after the leading front foot's first, print in strides)
    let feet = [(lead[0], 0.0, 0.0), (other[0], 0.5, 0.5), (lead[1], 0.75, 0.0), (other[1], 1.25, 0.5)];
    let mut footfalls = Vec::with_capacity(32);
    for (leg, landing, print) in feet {
        for n in -3..=4 {
            let n = f64::from(n);
            let on = (n + landing) * stride;
            let walking_s = gait.duty[leg] * stride;
            footfalls.push(Footfall {
                leg,
                on,
                off: on + walking_s,
                x: x0 + (n + print) * stride_m,
                walking_s,
            });
        }
    }
    let stance = stance_s.map(|seconds| stop(&mut footfalls, lead, other, stride, seconds));
    let on_deck = || footfalls.iter().filter(|f| f.on_deck());
    let start = on_deck().map(|f| f.on).fold(f64::INFINITY, f64::min);
    let end = on_deck().map(|f| f.off).fold(0.0, f64::max);
    Plan { stance, span: (start, end), footfalls }
}

/// Lets her stand once the other front foot has landed on its front plate: what comes later waits.
fn stop(
    footfalls: &mut [Footfall],
    lead: [Leg; 2],
    other: [Leg; 2],
    stride: f64,
    seconds: f64,
) -> (f64, f64) {
    const SLACK: f64 = 1e-6;
    let halt = 1.5 * stride;
    let standing = |f: &Footfall| {
        let landed = match f.leg {
            leg if leg == lead[0] => 1.0,
            leg if leg == other[0] => 1.5,
            leg if leg == lead[1] => 0.75,
            _ => 1.25,
        };
        (f.on - landed * stride).abs() < SLACK
    };
    let first_lift = footfalls.iter().filter(|f| standing(f)).map(|f| f.off).fold(f64::INFINITY, f64::min);
    let delay = seconds + halt - first_lift + 0.45 * stride;
    for f in footfalls.iter_mut() {
        if f.on > halt + SLACK {
            f.on += delay;
            f.off += delay;
        } else if standing(f) {
            f.off += delay;
        }
    }
    (halt + 0.4 * stride, first_lift + delay)
}
