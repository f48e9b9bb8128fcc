//! From a device's clock to UTC, within one boot.
//!
//! Each exchange of times gives a point: the device's clock, UTC, and by how much the two may be off. Between two
//! points the clocks are taken to run evenly; beyond the last and before the first, at the drift the points show.
//! Where the host's own clock was set between two points, they belong to different stretches and nothing is drawn
//! from one to the other.

use crate::record::ClockPoint;
use shared::{units::Milliseconds, wire::TimeReply};

/// Both clocks count whole milliseconds.
const GRAIN_MS: f64 = 1.0;
/// How late a request may come in whose round trip nobody measured, ms; our choice: a frame at 9600 baud.
const UNKNOWN_WAY_MS: f64 = 25.0;
/// Drift of a device whose drift is not known yet, ppm; our choice: twice the tolerance of a cheap crystal.
const UNKNOWN_DRIFT_PPM: f64 = 200.0;
/// Drift beyond which one of the clocks was set, ppm; our choice.
const IMPOSSIBLE_DRIFT_PPM: f64 = 1_000.0;
/// How far two points may disagree before one of the clocks was set, ms; our choice.
const JUMP_MS: f64 = 30.0;
/// How steady a crystal is, ppm; our choice: with it, 12 h without a host stay within 50 ms.
const WANDER_PPM: f64 = 0.5;
/// By how much the drift may change from one boot to another, ppm; our choice: another time of the year.
const OTHER_BOOT_PPM: f64 = 3.0;
/// The drift is taken over at most this time, ms; our choice: a day's warmth is in it.
const DRIFT_SPAN_MS: f64 = 86_400_000.0;

/// A moment of the device's clock, placed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Placed {
    /// UTC, ms since the Unix epoch.
    pub utc_ms: f64,
    /// By how much it may be off, either way, ms.
    pub error_ms: f64,
}

#[allow(clippy::cast_precision_loss, reason = "a clock is far below 2^53 ms")]
fn float(milliseconds: Milliseconds) -> f64 {
    milliseconds.0 as f64
}

#[allow(clippy::cast_precision_loss, reason = "a clock is far below 2^53 ms")]
const fn utc(milliseconds: i64) -> f64 {
    milliseconds as f64
}

impl ClockPoint {
    /// From a reply that came in `elapsed_ms` after its request went out. `None` where the device says it took
    /// longer than that.
    #[must_use]
    pub fn of_exchange(reply: &TimeReply, elapsed_ms: f64) -> Option<Self> {
        let on_the_way = elapsed_ms - float(reply.sent.since(reply.received));
        if on_the_way < -GRAIN_MS || reply.sent < reply.received {
            return None;
        }
        Some(Self {
            device_ms: f64::midpoint(float(reply.received), float(reply.sent)),
            utc_ms: utc(reply.host_sent_ms) + 0.5 * elapsed_ms,
            error_ms: 0.5 * on_the_way.max(0.0) + GRAIN_MS,
        })
    }

    /// From a reply in a capture, whose arrival is not known.
    #[must_use]
    pub fn of_capture(reply: &TimeReply) -> Self {
        let way = 0.5 * f64::from(reply.round_trip_ms);
        Self {
            device_ms: float(reply.received),
            utc_ms: utc(reply.host_sent_ms) + way,
            error_ms: if reply.round_trip_ms == 0 { UNKNOWN_WAY_MS } else { way } + GRAIN_MS,
        }
    }

    /// Whether both can be true of clocks that were not set in between.
    fn agrees(&self, other: &Self) -> bool {
        let device = other.device_ms - self.device_ms;
        let off = (other.utc_ms - self.utc_ms - device).abs();
        off <= device.abs() * IMPOSSIBLE_DRIFT_PPM * 1e-6 + self.error_ms + other.error_ms + JUMP_MS
    }
}

/// The points of one boot, in order of the device's clock.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ClockMap {
    points: Vec<ClockPoint>,
    /// UTC gained per ms in other boots, and by how much that may be off.
    usual: Option<(f64, f64)>,
}

impl ClockMap {
    /// Of points in any order.
    #[must_use]
    pub fn of(points: impl IntoIterator<Item = ClockPoint>) -> Self {
        let mut map = Self::default();
        for point in points {
            map.add(point);
        }
        map
    }

    /// Takes a point; says whether it is kept. Of one stretch of time the best is, or the later one where the
    /// host's clock was set between them.
    pub fn add(&mut self, point: ClockPoint) -> bool {
        let at = self.points.partition_point(|old| old.bucket() < point.bucket());
        match self.points.get_mut(at).filter(|old| old.bucket() == point.bucket()) {
            Some(old) if old.agrees(&point) && old.error_ms <= point.error_ms => false,
            Some(old) if !old.agrees(&point) && old.device_ms >= point.device_ms => false,
            Some(old) => {
                *old = point;
                true
            }
            None => {
                self.points.insert(at, point);
                true
            }
        }
    }

    /// Takes another boot's drift for what this one cannot tell by itself yet; says whether that boot told any.
    pub fn drifts_like(&mut self, other: &Self) -> bool {
        let drift = other.points.len().checked_sub(1).and_then(|last| other.slope(last));
        self.usual = drift.map(|(slope, off)| (slope, off + OTHER_BOOT_PPM * 1e-6));
        drift.is_some()
    }

    /// The points kept.
    #[must_use]
    pub fn points(&self) -> &[ClockPoint] {
        &self.points
    }

    /// Where a moment lies in UTC; `None` without any point.
    #[must_use]
    pub fn place(&self, time: Milliseconds) -> Option<Placed> {
        let time = float(time);
        let after = self.points.partition_point(|point| point.device_ms < time);
        let (before, after) = (after.checked_sub(1), (after < self.points.len()).then_some(after));
        match (before, after) {
            (Some(left), Some(right)) if self.points[left].agrees(&self.points[right]) => {
                Some(between(&self.points[left], &self.points[right], time))
            }
            (Some(left), Some(right)) => {
                let nearer_left = time - self.points[left].device_ms < self.points[right].device_ms - time;
                Some(self.beyond(if nearer_left { left } else { right }, time))
            }
            (Some(only), None) | (None, Some(only)) => Some(self.beyond(only, time)),
            (None, None) => None,
        }
    }

    /// How fast the device's clock runs against UTC now, ppm, and by how much that may be off.
    #[must_use]
    pub fn drift_ppm(&self) -> Option<(f64, f64)> {
        let (per_ms, off) = self.slope(self.points.len().checked_sub(1)?)?;
        Some((-per_ms * 1e6, off * 1e6))
    }

    /// UTC gained on the device's clock per ms around a point, and by how much that may be off; `None` where the
    /// stretch is too short to tell.
    fn slope(&self, at: usize) -> Option<(f64, f64)> {
        let point = &self.points[at];
        let near = |other: &ClockPoint| (other.device_ms - point.device_ms).abs() <= DRIFT_SPAN_MS;
        let agreeing = |pair: &[ClockPoint]| pair[0].agrees(&pair[1]);
        let last =
            at + self.points[at..].windows(2).take_while(|pair| agreeing(pair) && near(&pair[1])).count();
        let first = at
            - self.points[..=at].windows(2).rev().take_while(|pair| agreeing(pair) && near(&pair[0])).count();
        let (first, last) = (&self.points[first], &self.points[last]);
        let span = last.device_ms - first.device_ms;
        let off = (first.error_ms + last.error_ms) / span + WANDER_PPM * 1e-6;
        (span > 0.0 && off < UNKNOWN_DRIFT_PPM * 1e-6)
            .then(|| ((last.utc_ms - first.utc_ms - span) / span, off))
    }

    fn beyond(&self, at: usize, time: f64) -> Placed {
        let point = &self.points[at];
        let away = time - point.device_ms;
        let known = [self.slope(at), self.usual].into_iter().flatten().min_by(|a, b| a.1.total_cmp(&b.1));
        let (slope, off) = known.unwrap_or((0.0, UNKNOWN_DRIFT_PPM * 1e-6));
        Placed { utc_ms: point.utc_ms + away * (1.0 + slope), error_ms: point.error_ms + away.abs() * off }
    }
}

fn between(left: &ClockPoint, right: &ClockPoint, time: f64) -> Placed {
    let part = (time - left.device_ms) / (right.device_ms - left.device_ms);
    Placed {
        utc_ms: left.utc_ms + part * (right.utc_ms - left.utc_ms),
        error_ms: left.error_ms.max(right.error_ms),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const START: f64 = 1_767_225_600_000.0;

    /// A device whose clock runs `ppm` fast; the exchange may be off by `error_ms` and is, by `off_ms`.
    fn point(device_ms: f64, ppm: f64, error_ms: f64, off_ms: f64) -> ClockPoint {
        ClockPoint { device_ms, utc_ms: START + device_ms / (1.0 + ppm * 1e-6) + off_ms, error_ms }
    }

    fn truth(device_ms: u64, ppm: f64) -> f64 {
        START + float(Milliseconds(device_ms)) / (1.0 + ppm * 1e-6)
    }

    #[test]
    fn the_four_times_of_an_exchange_give_offset_and_error() {
        // Out 4 ms, on the device 3 ms, back 10 ms: the offset is wrong by half of the difference, 3 ms.
        let reply = TimeReply {
            host_sent_ms: 1_000_000,
            round_trip_ms: 0,
            boot: 1,
            received: Milliseconds(504),
            sent: Milliseconds(507),
        };
        let point = ClockPoint::of_exchange(&reply, 17.0).expect("possible");
        assert_eq!(point, ClockPoint { device_ms: 505.5, utc_ms: 1_000_008.5, error_ms: 8.0 });
        assert_eq!(ClockPoint::of_exchange(&reply, 1.0), None);
    }

    #[test]
    fn a_drift_of_100_ppm_is_followed_for_twelve_hours_alone() {
        for ppm in [100.0, -100.0] {
            // Two hours with a host every minute, then none.
            let points = (0..120).map(|n| {
                let n = f64::from(n);
                point(n * 60_000.0, ppm, 3.0, if n as i32 % 2 == 0 { 2.0 } else { -2.0 })
            });
            let map = ClockMap::of(points);
            assert!(map.points().len() <= 31);
            let (drift, off) = map.drift_ppm().expect("two hours tell");
            assert!((drift - ppm).abs() <= off && off < 2.0, "{drift} +- {off}");
            for minutes in [0, 1, 59, 60, 119, 125, 240, 14 * 60] {
                let device = minutes * 60_000;
                let placed = map.place(Milliseconds(device)).expect("placed");
                let wrong = (placed.utc_ms - truth(device, ppm)).abs();
                assert!(wrong <= placed.error_ms, "{minutes} min: {wrong} > {}", placed.error_ms);
                assert!(minutes > 240 || wrong < 20.0, "{minutes} min: {wrong}");
                assert!(wrong < 50.0, "{minutes} min: {wrong}");
            }
        }
    }

    #[test]
    fn one_point_alone_says_how_far_it_reaches() {
        let map = ClockMap::of([point(0.0, 0.0, 2.0, 0.0)]);
        let placed = map.place(Milliseconds(100_000)).expect("placed");
        assert!((placed.error_ms - 22.0).abs() < 1e-6);
        assert_eq!(map.drift_ppm(), None);
        assert_eq!(ClockMap::default().place(Milliseconds(0)), None);
    }

    #[test]
    fn a_boot_that_is_young_drifts_as_the_one_before() {
        let before = ClockMap::of((0..3).map(|n| point(f64::from(n) * 3_600_000.0, 100.0, 3.0, 0.0)));
        let mut young = ClockMap::of([point(7_200_000.0, 100.0, 3.0, 0.0)]);
        let alone = young.place(Milliseconds(0)).expect("placed");
        assert!((alone.utc_ms - truth(0, 100.0)).abs() > 500.0, "two hours at 100 ppm");
        assert!(young.drifts_like(&before));
        let placed = young.place(Milliseconds(0)).expect("placed");
        let wrong = (placed.utc_ms - truth(0, 100.0)).abs();
        assert!(wrong <= placed.error_ms && placed.error_ms < 50.0, "{wrong} of {}", placed.error_ms);
        assert!(!young.drifts_like(&ClockMap::default()), "a boot without points tells nothing");
        assert_eq!(young.place(Milliseconds(0)), Some(alone));
    }

    #[test]
    fn a_host_clock_that_was_set_splits_the_map() {
        let hour = 3_600_000.0;
        let before = (0..3).map(|n| point(f64::from(n) * hour, 50.0, 2.0, 0.0));
        let after = (3..6).map(|n| point(f64::from(n) * hour, 50.0, 2.0, -7_200_000.0));
        let map = ClockMap::of(before.chain(after));
        let off = |device: u64| map.place(Milliseconds(device)).expect("placed").utc_ms - truth(device, 50.0);
        assert!(off(3_600_000 + 1_800_000).abs() < 5.0);
        assert!(off(2 * 3_600_000 + 60_000).abs() < 5.0, "just after the last point of the old stretch");
        assert!((off(3 * 3_600_000 - 60_000) + 7_200_000.0).abs() < 5.0, "just before the new stretch");
        assert!((off(10 * 3_600_000) + 7_200_000.0).abs() < 50.0);
        let (drift, _) = map.drift_ppm().expect("the new stretch tells");
        assert!((drift - 50.0).abs() < 3.0, "{drift}");
    }

    #[test]
    fn the_best_point_of_a_stretch_is_kept_whatever_the_order() {
        let good = point(30_000.0, 0.0, 2.0, 0.0);
        let poor = point(90_000.0, 0.0, 40.0, 30.0);
        assert_eq!(ClockMap::of([good, poor]).points(), [good]);
        assert_eq!(ClockMap::of([poor, good]).points(), [good]);
        let mut map = ClockMap::of([good]);
        assert!(!map.add(good), "the same again changes nothing");
        let set = point(100_000.0, 0.0, 4.0, 3_600_000.0);
        assert!(map.add(set), "the host's clock was set: the later point counts");
        assert_eq!(map.points(), [set]);
    }
}
