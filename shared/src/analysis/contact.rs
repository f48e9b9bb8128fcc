//! One foot's time on one plate: landing, peak, impulse, lifting.

use super::filter::LOW_PASS_DELAY_S;
use crate::units::Milliseconds;

/// A foot is on where the plate carries more than this, kg; our choice: above dung, drift and noise.
const EDGE_KG: f32 = 10.0;
/// A contact must carry more than this at some time, kg; our choice.
const FIRM_KG: f32 = 20.0;
/// A load must last this long to be a contact, ms; our choice: longer than half a period of an 8 Hz ring.
const LANDED_MS: u64 = 80;
/// A plate must be unloaded this long for the foot to be off, ms; our choice: two readings at 20 Hz.
const LIFTED_MS: u64 = 40;
/// Two feet that follow each other without a gap are parted in a valley below this share of the first peak. Our choice.
const VALLEY_SHARE: f32 = 0.55;
/// The load must rise again by this share of the first peak; our choice.
const RISE_SHARE: f32 = 0.3;
/// One foot may dip as deep between its own two peaks, near the middle of its stance; where another takes its place, a
/// whole stance has gone by. So the valley must come this share of a stance after the landing. Our choice, between.
const STANCE_SHARE: f32 = 0.7;
/// Bounds of that time, ms: the shortest stance may be a foot half beside the deck, or two feet in one. Where no stance of
/// this crossing is known yet, the lower one is all that is asked of the time. Our choice.
const PARTED_MS: [f32; 2] = [400.0, 900.0];
const DELAY_MS: u64 = (LOW_PASS_DELAY_S * 1000.0) as u64;

/// A contact that is over.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Contact {
    /// Foot on.
    pub start: Milliseconds,
    /// Foot off.
    pub end: Milliseconds,
    /// Largest filtered load, kg.
    pub peak: f32,
    /// Load integrated over time, kg s.
    pub impulse: f32,
    /// Whether she stood during it.
    pub stood: bool,
    /// Whether it was seen from landing to lifting, with no reading missing.
    pub whole: bool,
}

/// The least time from landing to the valley in which another foot takes over, ms, where the shortest stance of the
/// crossing so far is `stance_s`.
#[must_use]
pub fn parted_ms(stance_s: Option<f32>) -> f32 {
    let [least, most] = PARTED_MS;
    stance_s.map_or(least, |s| (1000.0 * STANCE_SHARE * s).clamp(least, most))
}

impl Contact {
    /// Length, s.
    #[must_use]
    pub fn seconds(&self) -> f32 {
        self.end.since(self.start).seconds()
    }
}

/// What a reading did to a plate's contact.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Event {
    /// A foot landed.
    Landed,
    /// The foot lifted.
    Lifted(Contact),
    /// The foot lifted and another took its place at once.
    Swapped(Contact),
}

#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
enum Phase {
    #[default]
    Off,
    Landing,
    On,
    Lifting,
}

/// Follows the contacts of one plate.
#[derive(Clone, Copy, Debug, Default)]
pub struct ContactTracker {
    phase: Phase,
    contact: Contact,
    firm: bool,
    valley: f32,
    valley_time: Milliseconds,
    valley_impulse: f32,
}

impl ContactTracker {
    /// The contact that is on, if any.
    #[must_use]
    pub fn on(&self) -> Option<&Contact> {
        matches!(self.phase, Phase::On | Phase::Lifting).then_some(&self.contact)
    }

    /// She stands: contacts that are on are standing, not walking.
    pub fn stand(&mut self) {
        self.contact.stood = true;
    }

    /// Readings were lost, or seen only from now on.
    pub fn interrupt(&mut self) {
        self.contact.whole = false;
    }

    /// Takes one reading: unfiltered `load`, `filtered` load and the time since the last reading; and the least time
    /// from landing to a change of feet.
    pub fn push(
        &mut self,
        time: Milliseconds,
        seconds: f32,
        load: f32,
        filtered: f32,
        parted_ms: f32,
    ) -> Option<Event> {
        match self.phase {
            Phase::Off => {
                if load > EDGE_KG {
                    self.phase = Phase::Landing;
                    self.firm = load > FIRM_KG;
                    self.begin(time, load * seconds, 0.0);
                }
                None
            }
            Phase::Landing => {
                if load <= EDGE_KG {
                    self.phase = Phase::Off;
                    return None;
                }
                self.firm |= load > FIRM_KG;
                self.contact.impulse += load * seconds;
                self.contact.peak = self.contact.peak.max(filtered);
                self.valley = self.contact.peak;
                if self.firm && time.since(self.contact.start).0 >= LANDED_MS {
                    self.phase = Phase::On;
                    return Some(Event::Landed);
                }
                None
            }
            Phase::On => {
                if load <= EDGE_KG {
                    self.phase = Phase::Lifting;
                    self.contact.end = time;
                    return None;
                }
                self.contact.impulse += load * seconds;
                self.follow(time, filtered, parted_ms)
            }
            Phase::Lifting => {
                if load > EDGE_KG {
                    self.phase = Phase::On;
                    self.contact.impulse += load * seconds;
                    return self.follow(time, filtered, parted_ms);
                }
                if time.since(self.contact.end).0 >= LIFTED_MS {
                    self.phase = Phase::Off;
                    return Some(Event::Lifted(self.contact));
                }
                None
            }
        }
    }

    /// The passage is over: gives a contact that never lifted.
    pub fn finish(&mut self, time: Milliseconds) -> Option<Contact> {
        let mut contact = *self.on()?;
        if self.phase == Phase::On {
            contact.end = time;
        }
        self.phase = Phase::Off;
        Some(contact)
    }

    fn begin(&mut self, time: Milliseconds, impulse: f32, peak: f32) {
        self.contact = Contact { start: time, end: time, peak, impulse, stood: false, whole: true };
        (self.valley, self.valley_time, self.valley_impulse) = (peak, time, impulse);
    }

    fn follow(&mut self, time: Milliseconds, filtered: f32, parted_ms: f32) -> Option<Event> {
        if filtered >= self.contact.peak {
            self.contact.peak = filtered;
            self.valley = filtered;
        }
        if filtered <= self.valley {
            (self.valley, self.valley_time, self.valley_impulse) = (filtered, time, self.contact.impulse);
        } else if self.valley < VALLEY_SHARE * self.contact.peak
            && filtered - self.valley > RISE_SHARE * self.contact.peak
        {
            let mut before = self.contact;
            before.end = Milliseconds(self.valley_time.0.saturating_sub(DELAY_MS)).max(before.start);
            if (before.end.since(before.start).0 as f32) < parted_ms {
                self.valley = filtered;
                return None;
            }
            before.impulse = self.valley_impulse;
            let (end, impulse) = (before.end, self.contact.impulse - self.valley_impulse);
            self.begin(end, impulse, filtered);
            return Some(Event::Swapped(before));
        }
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_foot_takes_over_after_seven_tenths_of_a_stance_within_bounds() {
        assert_eq!(parted_ms(Some(1.0)), 700.0);
        assert_eq!(parted_ms(Some(0.5)), 400.0);
        assert_eq!(parted_ms(Some(1.5)), 900.0);
        assert_eq!(parted_ms(None), 400.0);
    }

    /// 300 kg, a valley 600 ms after landing, then 290 kg: whether a foot took over.
    fn parted(valley_kg: f32, parted_ms: f32) -> bool {
        let mut tracker = ContactTracker::default();
        let load = |ms: u64| match ms {
            0..590 => 300.0,
            590..=610 => valley_kg,
            _ => 290.0,
        };
        (0..100).map(|reading| reading * 10).any(|ms| {
            let event = tracker.push(Milliseconds(ms), 0.01, load(ms), load(ms), parted_ms);
            matches!(event, Some(Event::Swapped(_)))
        })
    }

    #[test]
    fn a_valley_parts_feet_where_it_is_deep_enough_and_late_enough() {
        let valley_ms = (610 - DELAY_MS) as f32;
        assert!(parted(160.0, valley_ms));
        assert!(!parted(160.0, valley_ms + 1.0), "too early in the stance: one foot's own valley");
        assert!(!parted(170.0, valley_ms), "not below .55 of 300 kg");
    }

    /// Whether a load that lasts so long is taken for a foot that has landed.
    fn landed(load: f32, lasts_ms: u64) -> bool {
        let mut tracker = ContactTracker::default();
        (0..40).map(|reading| reading * 10).any(|ms| {
            let now = if (50..=50 + lasts_ms).contains(&ms) { load } else { 0.0 };
            tracker.push(Milliseconds(ms), 0.01, now, now, 400.0) == Some(Event::Landed)
        })
    }

    #[test]
    fn a_foot_has_landed_where_more_than_the_firm_load_lasts_long_enough() {
        assert!(!landed(FIRM_KG, 300), "no more than the firm load");
        assert!(landed(FIRM_KG + 0.1, 300));
        assert!(landed(300.0, LANDED_MS));
        assert!(!landed(300.0, LANDED_MS - 10), "off again before");
    }

    /// The contact of a foot that is on for 400 ms, but for one reading where `lifts`; readings may be missing meanwhile.
    fn contact(lifts: bool, missing: bool) -> Contact {
        let mut tracker = ContactTracker::default();
        let lifted = (0..60).map(|reading| reading * 10).find_map(|ms| {
            if missing && ms == 200 {
                tracker.interrupt();
            }
            let now = if ms < 400 && !(lifts && ms == 200) { 300.0 } else { 0.0 };
            match tracker.push(Milliseconds(ms), 0.01, now, now, 400.0) {
                Some(Event::Lifted(contact)) => Some(contact),
                _ => None,
            }
        });
        lifted.expect("a contact")
    }

    #[test]
    fn a_contact_is_whole_where_no_reading_is_missing() {
        assert!(contact(false, false).whole && !contact(false, true).whole);
    }

    // By hand: 39 readings of 300 kg, each a hundredth of a second; the one at 0 in their midst lifts no foot.
    #[test]
    fn a_foot_that_touches_again_goes_on_pressing() {
        let Contact { impulse, end, .. } = contact(true, false);
        assert!((impulse - 117.0).abs() < 0.01, "{impulse}");
        assert_eq!(end, Milliseconds(400));
    }
}
