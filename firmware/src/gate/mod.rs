//! The gate behind the plates: when it may be moved for a listed cow, and why it was not.
//!
//! It rests unless everything speaks for a move: a list that a host has confirmed since the device started and goes on
//! confirming, one tag alone from its reading to the move, one animal on the plates and nobody on the first two, and a stop
//! input that is closed. What is not sure leaves it at rest, and the reason is kept. Interlocks that protect people are the
//! installer's; nothing here replaces one.

pub mod hold_list;
pub mod pins;

use crate::scale::Moment;
use hold_list::HeldList;
use shared::{
    identity::AnimalCode,
    units::{Kilograms, Milliseconds},
    wire::{ConfirmList, GateOutcome, GateSettings},
};

/// A list may be in force for at most so long, ms (our choice: a day, and an hour for the clocks).
pub const LONGEST_LIST_MS: i64 = 25 * 3_600_000;
/// The host's clock and the device's may drift apart by so much before they count as unsure, ms (our choice: far more
/// than any line delays, far less than a wrong hour).
pub const CLOCK_JUMP_MS: u64 = 60_000;
/// Another tag read so shortly before hers leaves it unsure who comes first, ms (our choice: less than a cow's length at a
/// walk).
pub const NEAR_MS: u64 = 3_000;
/// The same tag read again within this time is the same cow, ms (our choice: she stands in the reader's field).
pub const SAME_VISIT_MS: u64 = 10_000;
/// How long a move waits for the first plates to be left, ms (our choice: longer, and she is past the gate).
pub const FIRST_WAIT_MS: u64 = 5_000;
/// Passages in a row without any tag after which the reader is taken to be silent (our choice).
pub const UNTAGGED: u8 = 3;
/// More than one animal weighs, kg (our choice: above the heaviest bull that fits the lane).
pub const ONE_ANIMAL_KG: f32 = 1_300.0;

/// What lies on the plates now.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct DeckNow {
    /// On the two plates at the parlour's side.
    pub first: Kilograms,
    /// On all four.
    pub all: Kilograms,
}

/// A list that a host has confirmed.
#[derive(Clone, Copy, Debug)]
struct InForce {
    /// Over at this time of the timer.
    until: Milliseconds,
    /// UTC less the lane's clock, ms, as it was confirmed.
    utc_ahead: i64,
    clock_sure: bool,
}

/// A listed cow on her way to the gate.
#[derive(Clone, Copy, Debug)]
struct Waiting {
    place: usize,
    code: AnimalCode,
    read: Milliseconds,
    due: Milliseconds,
    /// What already speaks against a move.
    against: Option<GateOutcome>,
}

/// The gate.
#[derive(Debug)]
pub struct Gate {
    settings: Option<GateSettings>,
    /// Whom to hold.
    pub list: HeldList,
    in_force: Option<InForce>,
    host_heard: Milliseconds,
    waiting: Option<Waiting>,
    /// Until when the output is moved, and until when no other move is made.
    moved: Option<(Milliseconds, Milliseconds)>,
    /// The tag that was read last, and when.
    last: Option<(AnimalCode, Milliseconds)>,
    tagged: bool,
    untagged: u8,
}

impl Default for Gate {
    fn default() -> Self {
        Self::new()
    }
}

/// Where somebody writes down what came of a listed cow: her place on the list, her tag, when it was read, and the outcome.
/// Says whether it is kept.
pub trait Witness: FnMut(usize, AnimalCode, Milliseconds, GateOutcome) -> bool {}
impl<T: FnMut(usize, AnimalCode, Milliseconds, GateOutcome) -> bool> Witness for T {}

impl Gate {
    /// No gate, and nobody to hold.
    #[must_use]
    pub const fn new() -> Self {
        Self {
            settings: None,
            list: HeldList::new(0, 0, heapless::Vec::new()),
            in_force: None,
            host_heard: Milliseconds(0),
            waiting: None,
            moved: None,
            last: None,
            tagged: false,
            untagged: 0,
        }
    }

    /// How the gate is driven.
    #[must_use]
    pub const fn settings(&self) -> Option<GateSettings> {
        self.settings
    }

    /// Drives it otherwise from now on; nothing is in force until the list is confirmed again.
    pub const fn set(&mut self, settings: Option<GateSettings>) {
        self.settings = settings;
        self.rest();
    }

    /// Nothing is in force any more. A listed cow on her way hears of it when she is due.
    pub const fn rest(&mut self) {
        (self.in_force, self.moved) = (None, None);
    }

    /// A list has come whole. A cow on her way who is on this one too is still waited for.
    pub fn replace(&mut self, list: HeldList) {
        self.list = list;
        self.in_force = None;
        let listed = |waiting: Waiting| Some(Waiting { place: self.list.place(waiting.code)?, ..waiting });
        self.waiting = self.waiting.and_then(listed);
    }

    /// Puts the list in force. False where it is another list, over, or for too long: then nothing is in force.
    pub fn confirm(&mut self, confirmed: &ConfirmList, now: Moment) -> bool {
        let left = confirmed.until_utc_ms.saturating_sub(confirmed.now_utc_ms);
        let fits = confirmed.list != 0 && confirmed.list == self.list.list && self.settings.is_some();
        self.in_force = (fits && (1..=LONGEST_LIST_MS).contains(&left)).then(|| InForce {
            until: Milliseconds(now.timer.0.saturating_add(left.unsigned_abs())),
            utc_ahead: ahead(confirmed.now_utc_ms, now.clock),
            clock_sure: true,
        });
        self.in_force.is_some()
    }

    /// Whether a list is in force now.
    #[must_use]
    pub fn in_force(&self, now: Milliseconds) -> bool {
        self.not_in_force(now).is_none()
    }

    /// The host said something.
    pub const fn heard(&mut self, now: Milliseconds) {
        self.host_heard = now;
    }

    /// The host said what time it is.
    pub fn host_clock(&mut self, utc_ms: i64, clock: Milliseconds) {
        if let Some(list) = &mut self.in_force
            && ahead(utc_ms, clock).abs_diff(list.utc_ahead) > CLOCK_JUMP_MS
        {
            list.clock_sure = false;
        }
    }

    /// A tag was read.
    pub fn tag(&mut self, now: Milliseconds, code: AnimalCode, witness: &mut impl Witness) {
        let silent = self.untagged >= UNTAGGED;
        self.tagged = true;
        let before = self.last.replace((code, now));
        if before.is_some_and(|(other, at)| other == code && now.since(at).0 < SAME_VISIT_MS) {
            return;
        }
        let near = before.is_some_and(|(other, at)| other != code && now.since(at).0 < NEAR_MS);
        if let Some(waiting) = self.waiting.take() {
            witness(waiting.place, waiting.code, waiting.read, GateOutcome::NameUnsure);
        }
        let (Some(settings), Some(place)) = (self.settings, self.list.place(code)) else { return };
        let against =
            if near { Some(GateOutcome::NameUnsure) } else { silent.then_some(GateOutcome::ReaderSilent) };
        let due = Milliseconds(now.0.saturating_add(u64::from(settings.delay_ms)));
        self.waiting = Some(Waiting { place, code, read: now, due, against });
    }

    /// A passage has ended; whether two animals were in it.
    pub fn passage_ended(&mut self, two: bool) {
        self.untagged = if self.tagged { 0 } else { self.untagged.saturating_add(1) };
        self.tagged = false;
        if let Some(waiting) = self.waiting.as_mut().filter(|_| two) {
            waiting.against.get_or_insert(GateOutcome::TwoOnDeck);
        }
    }

    /// Looks whether it is time, with what lies on the plates where that is sure; says whether the output is to be at the
    /// level that moves the gate. A move is made only after the witness has kept it.
    pub fn turn(
        &mut self,
        now: Moment,
        deck: Option<DeckNow>,
        stopped: bool,
        witness: &mut impl Witness,
    ) -> bool {
        if stopped && let Some((until, _)) = &mut self.moved {
            *until = Milliseconds(0);
        }
        if let Some(waiting) = self.waiting.filter(|waiting| now.clock >= waiting.due) {
            let why = self.why_not(&waiting, now, deck, stopped);
            let late = now.clock.since(waiting.due).0 >= FIRST_WAIT_MS;
            if why != Some(GateOutcome::FirstPlates) || late {
                self.waiting = None;
                self.decide(&waiting, why, now.clock, witness);
            }
        }
        self.moved.is_some_and(|(until, _)| now.clock < until)
    }

    fn decide(
        &mut self,
        waiting: &Waiting,
        why: Option<GateOutcome>,
        clock: Milliseconds,
        witness: &mut impl Witness,
    ) {
        let Waiting { place, code, read, .. } = *waiting;
        let kept = witness(place, code, read, why.unwrap_or(GateOutcome::Held));
        match (why, self.settings) {
            (None, Some(settings)) if kept => {
                self.list.hold(place);
                let pulse = Milliseconds(clock.0.saturating_add(u64::from(settings.pulse_ms)));
                let hold = Milliseconds(clock.0.saturating_add(u64::from(settings.hold_ms)));
                self.moved = Some((pulse, hold));
            }
            (None, _) => {
                witness(place, code, read, GateOutcome::NotKept);
            }
            _ => {}
        }
    }

    fn not_in_force(&self, now: Milliseconds) -> Option<GateOutcome> {
        let Some((settings, list)) = self.settings.zip(self.in_force) else {
            return Some(GateOutcome::NotConfirmed);
        };
        if now >= list.until {
            Some(GateOutcome::Over)
        } else if now.since(self.host_heard).0 > 1_000 * u64::from(settings.silence_s) {
            Some(GateOutcome::HostSilent)
        } else {
            (!list.clock_sure).then_some(GateOutcome::ClockUnsure)
        }
    }

    /// What speaks against moving the gate for her now.
    fn why_not(
        &self,
        waiting: &Waiting,
        now: Moment,
        deck: Option<DeckNow>,
        stopped: bool,
    ) -> Option<GateOutcome> {
        let first = self.settings.map_or(Kilograms(0.0), |settings| settings.first_kg);
        // A load that is no number is no small one.
        let below = |load: Kilograms, limit: f32| load.0 <= limit;
        if stopped {
            Some(GateOutcome::Stopped)
        } else if let Some(why) = self.not_in_force(now.timer) {
            Some(why)
        } else if let Some(why) = waiting.against {
            Some(why)
        } else if self.list.is_held(waiting.place) {
            Some(GateOutcome::HeldBefore)
        } else if self.list.held() >= u32::from(self.list.most) {
            Some(GateOutcome::Enough)
        } else if self.moved.is_some_and(|(_, hold)| now.clock < hold) {
            Some(GateOutcome::Busy)
        } else {
            match deck {
                None => Some(GateOutcome::PlatesUnsure),
                Some(deck) if !below(deck.all, ONE_ANIMAL_KG) => Some(GateOutcome::TwoOnDeck),
                Some(deck) => (!below(deck.first, first.0)).then_some(GateOutcome::FirstPlates),
            }
        }
    }
}

fn ahead(utc_ms: i64, clock: Milliseconds) -> i64 {
    utc_ms.saturating_sub(i64::try_from(clock.0).unwrap_or(i64::MAX))
}

#[cfg(test)]
mod tests;
