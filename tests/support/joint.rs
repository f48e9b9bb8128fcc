//! A whole device and a whole host on one line: the device's program as on a board, the host's session into a real
//! store, and between them a line that delays, flips and cuts. Time is the test's own.

use firmware::{
    fakes::{Board, Chance, Deck, FakePort, SharedFlash},
    scale::Moment,
};
use host::{
    link::{
        Keeper, Line, Notice, Now, Session, StoreKeeper,
        orders::{OrdersSpoken, Wanted},
    },
    store::{SourceId, Store},
};
use shared::{
    units::Milliseconds,
    wire::{HostMessage, ResetCause},
};
use std::collections::VecDeque;

/// UTC when a test begins, ms since the Unix epoch.
pub const START_UTC_MS: i64 = 1_767_225_600_000;
/// A step, ms: a reading at 200 Hz.
const STEP_MS: u64 = 5;
/// A step while nobody is near the plates and no readings are made, ms.
const QUIET_STEP_MS: u64 = 50;

/// One direction of a line.
#[derive(Default)]
struct Wire(VecDeque<(u64, Vec<u8>)>);

impl Wire {
    fn put(&mut self, mut bytes: Vec<u8>, now: u64, trouble: &mut Trouble) {
        if bytes.is_empty() {
            return;
        }
        trouble.chance.flip(&mut bytes, trouble.noise);
        let (low, high) = trouble.delay_ms;
        let after = self.0.back().map_or(0, |(at, _)| *at);
        let way = trouble.chance.between(low, high).unsigned_abs();
        self.0.push_back((after.max(now + way), bytes));
    }

    fn take(&mut self, now: u64) -> Option<Vec<u8>> {
        self.0.front().filter(|(at, _)| *at <= now)?;
        self.0.pop_front().map(|(_, bytes)| bytes)
    }
}

/// What is wrong with the line.
pub struct Trouble {
    /// Probability that a bit flips.
    pub noise: f64,
    /// Shortest and longest way, ms; drawn anew for each piece and each direction.
    pub delay_ms: (i64, i64),
    /// The draws.
    pub chance: Chance,
}

/// Passages that have their place in a store.
///
/// # Panics
/// Where the store fails.
#[must_use]
pub fn passages_of(store: &Store) -> u64 {
    store.passage_count().expect("counted")
}

/// Both ends and the line.
pub struct Joint<'s> {
    /// The device.
    pub board: Board,
    /// Its plates; cows come by true time.
    pub deck: Deck,
    /// The line.
    pub trouble: Trouble,
    /// True time since the test began, ms.
    pub now: u64,
    /// How far the host's UTC is off, ms.
    pub host_off_ms: i64,
    /// How fast the device's clock runs, ppm.
    pub ppm: f64,
    /// Part of the readings that never comes.
    pub lost: f64,
    /// What lies between the two, as the host takes it.
    pub line: Line,
    /// What the host had to say.
    pub notices: Vec<Notice>,
    /// What the device is to know, as `listen` would have it.
    pub wanted: Wanted,
    /// How the host tells it so.
    pub orders: OrdersSpoken,
    /// Whether the gate's stop input is open.
    pub stopped: bool,
    /// When the gate's output went to the level that moves it, in true time.
    pub moves: Vec<u64>,
    high: bool,
    /// All that went over the line, to the device and to the host.
    pub went: (Vec<Vec<u8>>, Vec<Vec<u8>>),
    store: &'s Store,
    source: SourceId,
    session: Option<Session<StoreKeeper<'s>>>,
    booted_at: u64,
    to_host: Wire,
    to_device: Wire,
}

impl<'s> Joint<'s> {
    /// A new device with a flash of so many pages of 4 KiB, without a host.
    ///
    /// # Panics
    /// Where the store or the device cannot be made.
    #[must_use]
    pub fn new(store: &'s Store, pages: usize, seed: u64) -> Self {
        Self::with_programs(store, pages, seed, 0)
    }

    /// The same with two slots of so many bytes for programs.
    ///
    /// # Panics
    /// As [`Self::new`].
    #[must_use]
    pub fn with_programs(store: &'s Store, pages: usize, seed: u64, program: u32) -> Self {
        let flash = SharedFlash::new(pages);
        let board = Board::boot_with(flash, FakePort::default(), ResetCause::PowerOn, program);
        let source = store.begin_source("link", "joint", jiff::Timestamp::UNIX_EPOCH).expect("stored");
        Self {
            board: board.expect("boots"),
            deck: Deck::new(seed),
            trouble: Trouble { noise: 0.0, delay_ms: (1, 20), chance: Chance(seed) },
            now: 0,
            host_off_ms: 0,
            ppm: 0.0,
            lost: 0.0,
            line: Line::Cable,
            notices: Vec::new(),
            wanted: Wanted::default(),
            orders: OrdersSpoken::default(),
            stopped: false,
            moves: Vec::new(),
            high: false,
            went: (Vec::new(), Vec::new()),
            store,
            source,
            session: None,
            booted_at: 0,
            to_host: Wire::default(),
            to_device: Wire::default(),
        }
    }

    /// The device's clock.
    #[must_use]
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a time since boot")]
    pub fn device_clock(&self) -> Milliseconds {
        Milliseconds(((self.now - self.booted_at) as f64 * (1.0 + self.ppm * 1e-6)) as u64)
    }

    /// The host's clocks.
    #[must_use]
    pub fn host_now(&self) -> Now {
        Now {
            utc_ms: START_UTC_MS + self.now.cast_signed() + self.host_off_ms,
            monotonic_ms: self.now + 1_000,
        }
    }

    /// A host connects, in the place of the one before.
    pub fn connect(&mut self) {
        self.disconnect();
        let keeper = StoreKeeper::new(self.store, self.source);
        self.session = Some(Session::new(keeper, self.line, self.host_now()));
        self.orders.met();
    }

    /// The line is cut, with what is on it.
    ///
    /// # Panics
    /// Where the store fails.
    pub fn disconnect(&mut self) {
        self.to_host.0.clear();
        self.to_device.0.clear();
        if let Some(mut session) = self.session.take()
            && let Some(device) = session.device().map(|hello| hello.device)
        {
            session.keeper().settle(device).expect("the store works");
        }
    }

    /// The device loses its power and comes back.
    ///
    /// # Panics
    /// Where it does not boot.
    pub fn reboot(&mut self, reset: ResetCause) {
        self.board.flash.revive();
        self.board.reboot(reset).expect("boots");
        self.booted_at = self.now;
        self.to_host.0.clear();
        self.to_device.0.clear();
    }

    /// The host says something.
    pub fn say(&mut self, message: &HostMessage) {
        if let Some(session) = &mut self.session {
            session.say(message);
        }
    }

    /// Whether host and device speak sealed.
    #[must_use]
    pub fn is_sealed(&self) -> bool {
        self.session.as_ref().is_some_and(Session::is_sealed)
    }

    /// Sends bytes to the host past the device.
    pub fn put_to_host(&mut self, bytes: Vec<u8>) {
        self.to_host.put(bytes, self.now, &mut self.trouble);
    }

    /// Sends bytes to the device past the session.
    pub fn put(&mut self, bytes: Vec<u8>) {
        self.to_device.put(bytes, self.now, &mut self.trouble);
    }

    /// A tag is read now.
    pub fn tag(&mut self, national: u64) {
        let clock = self.device_clock();
        let line = format!("999{national:012}\r\n");
        line.bytes().for_each(|byte| self.board.scale.tag_byte(clock, byte));
    }

    /// A cow comes: her tag, and a second later her first foot. Ends when she has been off for some seconds. Says
    /// when, in true time, her tag was read.
    pub fn cow(&mut self, national: u64) -> u64 {
        let at = self.now;
        self.tag(national);
        self.deck.cows = vec![self.now + 1_000];
        self.run(14_000);
        at
    }

    /// Lets time go by, with readings.
    ///
    /// # Panics
    /// Where the store fails.
    pub fn run(&mut self, milliseconds: u64) {
        let end = self.now + milliseconds;
        while self.now < end {
            self.now += STEP_MS;
            let clock = self.device_clock();
            if self.trouble.chance.happens(self.lost) {
                self.board.scale.idle(Moment { clock, timer: clock });
            } else {
                let sample = self.deck.sample(self.now);
                self.board.scale.sample(clock, &sample);
            }
            self.talk();
        }
    }

    /// Lets time go by without readings, to come fast through the hours.
    ///
    /// # Panics
    /// Where the store fails.
    pub fn quiet(&mut self, milliseconds: u64) {
        let end = self.now + milliseconds;
        while self.now < end {
            let under_way = !self.to_host.0.is_empty() || !self.to_device.0.is_empty();
            self.now = end.min(self.now + if under_way { 1 } else { QUIET_STEP_MS });
            self.talk();
        }
    }

    fn talk(&mut self) {
        let clock = self.device_clock();
        while let Some(bytes) = self.to_device.take(self.now) {
            self.board.port.put(&bytes);
            self.went.0.push(bytes);
        }
        let moment = Moment { clock, timer: clock };
        let high = self.board.scale.gate(moment, self.stopped) == Some(true);
        if high && !std::mem::replace(&mut self.high, high) {
            self.moves.push(self.now);
        }
        self.high = high;
        self.board.scale.talk(moment).expect("the port works");
        self.to_host.put(self.board.port.take(), self.now, &mut self.trouble);
        let host_now = self.host_now();
        let Some(session) = &mut self.session else {
            self.to_host.0.clear();
            return;
        };
        while let Some(bytes) = self.to_host.take(self.now) {
            session.receive(&bytes, host_now).expect("the store works");
            self.went.1.push(bytes);
        }
        let silent = session.tick(host_now).is_err();
        for notice in session.take_notices() {
            match &notice {
                Notice::Hello(_) => self.orders.met(),
                Notice::Answer(answer) => {
                    let heard = self.orders.hear(session, self.store, answer, &self.wanted, host_now);
                    if heard.expect("the store works") {
                        continue;
                    }
                }
                _ => {}
            }
            self.notices.push(notice);
        }
        self.orders.turn(session, self.store, &self.wanted, host_now).expect("the store works");
        self.to_device.put(session.take_output(), self.now, &mut self.trouble);
        if silent {
            // As `listen` does.
            self.connect();
        }
    }
}
