//! Which foot is on which plate, and the walking measures by leg.
//!
//! On each side a fore foot lands on the rear plate, moves on to the front plate, and the hind foot takes its
//! place; leaving, the hind foot takes the fore foot's place on the front plate. One fore foot cannot be on both
//! plates, so a foot on the rear plate while the front plate of its side is loaded is a hind foot. A long stride
//! skips a plate, so where she never stood the feet are told from the whole crossing (`treads`).

use super::{
    contact::{Contact, ContactTracker, Event, parted_ms},
    summary::LegContacts,
    treads::{Foot, Tread, Treads},
};
use crate::{
    plate::{Leg, PerLeg, PerPlate, Plate},
    units::Milliseconds,
};

/// The plates of a side must be loaded together this long to tell that two feet are on, ms; our choice.
const TOGETHER_MS: u64 = 100;
/// A walking contact is not longer than this, s; our choice: twice the stance time of a slow cow (stride 1.48 s
/// with a sole ulcer, Flower 2005).
const LONGEST_CONTACT_S: f32 = 2.0;
/// A contact whose peak is below this share of another of the same leg was a foot half beside the deck. Our choice:
/// peaks of a leg within one crossing are closer than that.
const HALF_BESIDE: f32 = 0.8;
/// With fewer contacts the deck hardly ever bears all her feet for a whole step: two of each leg are needed for some of
/// them to overlap so long.
const WHOLE_STEP_CONTACTS: u8 = 8;
/// Longest time between the landings of two legs of a pair that is still a step, ms; our choice.
const LONGEST_STEP_MS: u64 = 2000;
/// Two plates whose contacts begin and end within this of each other carry one foot, ms; our choice: one reading
/// at 20 Hz, far less than the time between footfalls.
const AT_ONCE_MS: u64 = 60;
/// ... unless a third plate does so within this, ms: then she got on or off with several feet at once. Our choice.
const APART_MS: u64 = 200;
/// Slack when comparing lifting on one plate with landing on another, ms; our choice.
const SLACK_MS: u64 = 200;

/// One side of the deck.
#[derive(Clone, Debug, Default)]
struct Side {
    /// Contacts until she stands, while the whole crossing may still tell more of them.
    treads: Treads,
    front_foot: Option<Foot>,
    rear_foot: Option<Foot>,
    /// When both plates of the side were last seen loaded for long enough.
    together: bool,
    fore_on_rear: bool,
    fore_on_front: bool,
    hind_on_rear: bool,
    hind_on_front: bool,
    front_end: Option<Milliseconds>,
    rear_start: Option<Milliseconds>,
    rear_end: Option<Milliseconds>,
}

/// Sums over the whole contacts of one leg.
#[derive(Clone, Copy, Debug, Default)]
struct Walked {
    count: u8,
    best: f32,
    peak: f32,
    seconds: f32,
    impulse: f32,
    steps: f32,
    step_s: f32,
    landings: [Option<Milliseconds>; 2],
}

impl Walked {
    fn add(&mut self, contact: &Contact) {
        if contact.peak < HALF_BESIDE * self.best {
            return;
        }
        if self.best < HALF_BESIDE * contact.peak {
            (self.count, self.peak, self.seconds, self.impulse) = (0, 0.0, 0.0, 0.0);
        }
        self.best = self.best.max(contact.peak);
        self.count = self.count.saturating_add(1);
        self.peak += contact.peak;
        self.seconds += contact.seconds();
        self.impulse += contact.impulse;
    }
}

/// Follows the feet of one passage.
#[derive(Clone, Debug, Default)]
pub struct Feet {
    trackers: PerPlate<ContactTracker>,
    last: PerPlate<Option<Contact>>,
    sides: [Side; 2],
    walked: PerLeg<Walked>,
    last_event: Milliseconds,
    /// The shortest whole stance so far, s.
    shortest_s: Option<f32>,
    second_animal: bool,
    across: bool,
    unsure: bool,
    /// She has stood, or trod more than a walk does: contacts are told one by one.
    settled: bool,
}

const fn side_of(plate: Plate) -> usize {
    match plate {
        Plate::LF | Plate::LR => 0,
        Plate::RF | Plate::RR => 1,
    }
}

const fn is_front(plate: Plate) -> bool {
    matches!(plate, Plate::LF | Plate::RF)
}

/// The plate ahead of or behind `plate`.
const fn along(plate: Plate) -> Plate {
    match plate {
        Plate::LF => Plate::LR,
        Plate::LR => Plate::LF,
        Plate::RF => Plate::RR,
        Plate::RR => Plate::RF,
    }
}

/// The plate beside `plate`.
const fn beside(plate: Plate) -> Plate {
    match plate {
        Plate::LF => Plate::RF,
        Plate::RF => Plate::LF,
        Plate::LR => Plate::RR,
        Plate::RR => Plate::LR,
    }
}

const fn leg(side: usize, foot: Foot) -> Leg {
    match (side, foot) {
        (0, Foot::Fore) => Leg::LF,
        (0, Foot::Hind) => Leg::LR,
        (_, Foot::Fore) => Leg::RF,
        (_, Foot::Hind) => Leg::RR,
    }
}

impl Feet {
    /// Takes one reading: unfiltered and filtered loads, and the time since the last reading.
    pub fn push(&mut self, time: Milliseconds, seconds: f32, loads: [f32; 4], filtered: [f32; 4]) {
        let parted_ms = parted_ms(self.shortest_s);
        for ((plate, load), filtered) in Plate::ALL.into_iter().zip(loads).zip(filtered) {
            let parted_ms = if self.may_part(plate) { parted_ms } else { f32::INFINITY };
            let event = self.trackers[plate].push(time, seconds, load, filtered, parted_ms);
            match event {
                None => {}
                Some(Event::Landed) => self.landed(plate, time),
                Some(Event::Lifted(contact)) => self.lifted(plate, contact),
                Some(Event::Swapped(contact)) => {
                    self.lifted(plate, contact);
                    self.landed(plate, time);
                }
            }
        }
    }

    /// Whether another foot may have taken the place of the one on `plate`. While no stance is known yet, its whole stance
    /// is over only where another foot has come down since: the other leg of a pair swings while one stands.
    fn may_part(&self, plate: Plate) -> bool {
        let Some(contact) = self.trackers[plate].on() else { return false };
        let since = |other: &ContactTracker| other.on().is_some_and(|other| other.start > contact.start);
        self.shortest_s.is_some() || self.trackers.0.iter().any(since)
    }

    /// She stands now.
    pub fn stand(&mut self) {
        self.trackers.0.iter_mut().for_each(ContactTracker::stand);
        self.settle();
    }

    /// Readings were lost, or she was on before the first.
    pub fn interrupt(&mut self) {
        self.trackers.0.iter_mut().for_each(ContactTracker::interrupt);
    }

    /// When a foot last landed or lifted.
    #[must_use]
    pub const fn last_event(&self) -> Milliseconds {
        self.last_event
    }

    /// The passage is over: contacts that never lifted are closed.
    pub fn finish(&mut self, time: Milliseconds) {
        for plate in Plate::ALL {
            if let Some(contact) = self.trackers[plate].finish(time) {
                self.lifted(plate, Contact { whole: false, ..contact });
            }
        }
        if !self.settled {
            self.sides.iter_mut().for_each(|side| side.treads.tell());
            self.count_kept();
        }
    }

    /// From now on contacts are told one by one.
    fn settle(&mut self) {
        self.settled = true;
        self.count_kept();
    }

    /// Counts the contacts held back, in the order of landing.
    fn count_kept(&mut self) {
        loop {
            let [left, right] = &mut self.sides;
            let (side, treads) = match (left.treads.first(), right.treads.first()) {
                (Some(a), Some(b)) if b < a => (1, &mut right.treads),
                (Some(_), _) => (0, &mut left.treads),
                (None, Some(_)) => (1, &mut right.treads),
                (None, None) => return,
            };
            if let Some(tread) = treads.pop() {
                self.told(side, tread.foot, &tread.contact);
            }
        }
    }

    fn told(&mut self, side: usize, foot: Option<Foot>, contact: &Contact) {
        match foot {
            Some(foot) => self.count(leg(side, foot), contact),
            None => self.unsure = true,
        }
    }

    /// Whether more feet were on than one cow has.
    #[must_use]
    pub const fn second_animal(&self) -> bool {
        self.second_animal
    }

    /// Whether a foot was on two plates.
    #[must_use]
    pub const fn across(&self) -> bool {
        self.across
    }

    /// Whether a foot could not be told.
    #[must_use]
    pub const fn unsure(&self) -> bool {
        self.unsure
    }

    /// Whether she left the way she came.
    #[must_use]
    pub fn backed_out(&self) -> bool {
        let backed =
            self.sides.each_ref().map(|side| match (side.front_end, side.rear_start, side.rear_end) {
                (None, Some(_), _) => Some(true),
                (Some(front_end), Some(start), Some(end)) => {
                    let back_on_rear = start.0 + SLACK_MS >= front_end.0 && side.fore_on_front;
                    let rear_last = side.fore_on_rear && end.0 > front_end.0 + SLACK_MS;
                    Some(!side.hind_on_front && (back_on_rear || rear_last))
                }
                (Some(_), ..) => Some(false),
                (None, None, _) => None,
            });
        backed.contains(&Some(true)) && !backed.contains(&Some(false))
    }

    /// Body weight by the stride, kg, where too few feet were on for the deck to carry a whole step: over a stride each
    /// leg bears once, and together they bear her weight for its time.
    #[must_use]
    pub fn weight_by_stride(&self) -> Option<f32> {
        let short =
            !self.settled && self.walked.0.iter().map(|leg| leg.count).sum::<u8>() < WHOLE_STEP_CONTACTS;
        let stride_s = 2.0 * self.step_s().filter(|_| short)?;
        let impulses = self.walked.0.iter().map(|leg| leg.impulse / f32::from(leg.count.max(1)));
        Some(impulses.sum::<f32>() / stride_s)
    }

    /// Whether exactly one plate never carried a foot, though no stride skipped it.
    #[must_use]
    pub fn one_plate_idle(&self) -> bool {
        self.last.0.iter().filter(|contact| contact.is_none()).count() == 1 && (self.settled || self.unsure)
    }

    /// Median-like step time of all legs: the mean of the steps seen, s.
    #[must_use]
    pub fn step_s(&self) -> Option<f32> {
        let (steps, seconds) =
            self.walked.0.iter().fold((0.0, 0.0), |(n, s), leg| (n + leg.steps, s + leg.step_s));
        (steps > 0.0).then(|| seconds / steps)
    }

    /// The walking measures, with loads as % of `body_weight` kg.
    #[must_use]
    pub fn walking(&self, body_weight: f32) -> PerLeg<LegContacts> {
        PerLeg(self.walked.0.map(|leg| {
            if leg.count == 0 || body_weight <= 0.0 {
                return LegContacts::default();
            }
            let n = f32::from(leg.count);
            let percent = 100.0 / (body_weight * n);
            LegContacts {
                count: leg.count,
                peak_pct: leg.peak * percent,
                stance_s: leg.seconds / n,
                impulse_pct_s: leg.impulse * percent,
                step_s: if leg.steps > 0.0 { leg.step_s / leg.steps } else { 0.0 },
            }
        }))
    }

    fn side(&mut self, plate: Plate) -> Option<&mut Side> {
        self.sides.get_mut(side_of(plate))
    }

    fn landed(&mut self, plate: Plate, time: Milliseconds) {
        self.last_event = time;
        let other_on = self.trackers[along(plate)].on().is_some();
        let leaving = self.sides.iter().any(|side| side.hind_on_front);
        let start = self.trackers[plate].on().map(|contact| contact.start);
        let Some(side) = self.side(plate) else { return };
        side.together = false;
        if is_front(plate) {
            let hind = !other_on && side.fore_on_front && side.hind_on_rear;
            side.front_foot = Some(if hind { Foot::Hind } else { Foot::Fore });
            side.hind_on_front |= hind;
            side.fore_on_front |= !hind;
        } else {
            side.rear_start = start;
            side.rear_foot = (side.fore_on_front && other_on).then_some(Foot::Hind);
            self.second_animal |= leaving;
        }
    }

    fn lifted(&mut self, plate: Plate, contact: Contact) {
        self.last_event = contact.end;
        if contact.whole && !contact.stood {
            let seconds = contact.seconds();
            self.shortest_s = Some(self.shortest_s.map_or(seconds, |shortest| shortest.min(seconds)));
        }
        let together = self.trackers[along(plate)]
            .on()
            .is_some_and(|other| contact.end.since(other.start.max(contact.start)).0 >= TOGETHER_MS);
        let settled = self.settled;
        let Some(side) = self.side(plate) else { return };
        side.together |= together;
        let together = side.together;
        let foot = if is_front(plate) {
            side.front_end = Some(contact.end);
            side.front_foot.take()
        } else {
            side.rear_end = Some(contact.end);
            let hind =
                together || side.rear_foot == Some(Foot::Hind) || (side.fore_on_front && !side.hind_on_rear);
            let foot = if hind {
                Some(Foot::Hind)
            } else if side.fore_on_front {
                None
            } else {
                Some(Foot::Fore)
            };
            side.hind_on_rear |= hind;
            side.fore_on_rear |= foot == Some(Foot::Fore);
            side.rear_foot = None;
            foot
        };
        let kept = !settled && side.treads.keep(Tread { front: is_front(plate), foot, contact });
        self.look_across(plate, &contact);
        self.last[plate] = Some(contact);
        if !kept {
            self.settle();
            self.told(side_of(plate), foot, &contact);
        }
    }

    /// One foot on two plates: no two feet of a walking cow land or lift at once.
    ///
    /// Only side by side does one edge suffice: a hind foot may land soon after the fore foot of its side.
    fn look_across(&mut self, plate: Plate, contact: &Contact) {
        if contact.stood {
            return;
        }
        let near = |a: Milliseconds, b: Milliseconds, ms: u64| a.0.abs_diff(b.0) <= ms;
        let newest = |other: Plate| self.trackers[other].on().or(self.last[other].as_ref());
        let over = |other: Plate| self.last[other].as_ref().filter(|c| !c.stood);
        let others = || Plate::ALL.into_iter().filter(|other| *other != plate);
        let starts =
            others().filter(|p| newest(*p).is_some_and(|c| near(c.start, contact.start, APART_MS))).count();
        let ends = others().filter(|p| over(*p).is_some_and(|c| near(c.end, contact.end, APART_MS))).count();
        let same_start = |p: Plate| {
            starts == 1 && newest(p).is_some_and(|c| !c.stood && near(c.start, contact.start, AT_ONCE_MS))
        };
        let same_end = |p: Plate| ends == 1 && over(p).is_some_and(|c| near(c.end, contact.end, AT_ONCE_MS));
        let (beside, along) = (beside(plate), along(plate));
        self.across |= same_start(beside) || same_end(beside) || (same_start(along) && same_end(along));
    }

    fn count(&mut self, leg: Leg, contact: &Contact) {
        let [newest, older] = self.walked[leg.opposite()].landings;
        let before = [newest, older].into_iter().flatten().find(|landing| *landing < contact.start);
        let walked = &mut self.walked[leg];
        walked.landings = [Some(contact.start), walked.landings.first().copied().flatten()];
        if let Some(before) = before {
            let step = contact.start.since(before);
            if step.0 <= LONGEST_STEP_MS {
                walked.steps += 1.0;
                walked.step_s += step.seconds();
            }
        }
        if contact.whole && !contact.stood && contact.seconds() <= LONGEST_CONTACT_S {
            walked.add(contact);
        }
    }
}

#[cfg(test)]
mod tests;
