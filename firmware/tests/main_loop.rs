//! The main loop: what keeps the watchdog fed and what does not.

mod support;

use firmware::{
    fakes::{Board, Deck, FakeCells, FakePort, SharedFlash},
    gate::pins::NoGate,
    lane::{Around, Lane, NoWatchdog, Turn, Watchdog},
};
use shared::{
    units::Milliseconds,
    wire::{DeviceMessage, HostMessage, ResetCause},
};
use std::{cell::Cell, rc::Rc};
use support::{PERIOD_MS, host_frame, tag_line};

/// A watchdog that remembers when it was fed last.
#[derive(Clone)]
struct Fed {
    clock: Rc<Cell<u64>>,
    last: Rc<Cell<u64>>,
}

impl Watchdog for Fed {
    fn feed(&mut self) {
        self.last.set(self.clock.get());
    }
}

struct Bench {
    board: Board,
    tags: FakePort,
    clock: Rc<Cell<u64>>,
    fed: Rc<Cell<u64>>,
}

impl Bench {
    fn new(reset: ResetCause) -> Self {
        let board = Board::boot(SharedFlash::new(16), FakePort::default(), reset).expect("boots");
        Self { board, tags: FakePort::default(), clock: Rc::default(), fed: Rc::default() }
    }

    /// Runs the loop, a turn a millisecond, with `change` before each turn; how long the watchdog went hungry at
    /// the end, ms.
    fn run(
        &mut self,
        milliseconds: u64,
        reset: ResetCause,
        mut change: impl FnMut(u64, &mut FakeCells, &FakePort),
    ) -> (u64, u32) {
        let cells = FakeCells::new(Deck::new(1), Rc::clone(&self.clock), PERIOD_MS);
        let watchdog = Fed { clock: Rc::clone(&self.clock), last: Rc::clone(&self.fed) };
        let clock = Rc::clone(&self.clock);
        let now = move || Milliseconds(clock.get());
        let port = self.board.port.clone();
        let around = Around { tags: self.tags.clone(), clock: now, watchdog, gate: NoGate };
        let mut lane = Lane::new(&mut self.board.scale, cells, around, reset);
        for _ in 0..milliseconds {
            self.clock.set(self.clock.get() + 1);
            change(self.clock.get(), lane.cells(), &port);
            lane.turn();
        }
        (self.clock.get() - self.fed.get(), lane.cells().restarts)
    }
}

#[test]
fn a_working_lane_feeds_the_watchdog_at_every_turn() {
    let mut bench = Bench::new(ResetCause::PowerOn);
    bench.tags.put(&tag_line(7));
    let (hungry, restarts) = bench.run(30_000, ResetCause::PowerOn, |_, _, _| {});
    assert_eq!((hungry, restarts), (0, 1), "started once");
    assert_eq!(bench.board.scale.journal().waiting(), 1, "the tag");
}

#[test]
fn a_converter_that_falls_silent_is_restarted_each_second_until_it_answers() {
    let mut bench = Bench::new(ResetCause::PowerOn);
    let (hungry, restarts) = bench.run(20_000, ResetCause::PowerOn, |now, cells, _| {
        if now == 5_000 {
            cells.mute = 3;
        }
    });
    assert_eq!((hungry, restarts), (0, 4), "once at the start and three times until it answered");
}

#[test]
fn a_converter_that_does_not_answer_is_restarted_no_more_than_once_a_second() {
    let mut bench = Bench::new(ResetCause::PowerOn);
    let (_, restarts) = bench.run(10_000, ResetCause::PowerOn, |now, cells, _| cells.failing = now > 5_000);
    // The last sample is the one of 4,996 ms: at 5,996 ms and four times after.
    assert_eq!(restarts, 1 + 5);
}

#[test]
fn a_dead_converter_starves_the_watchdog_once_and_is_lived_with_after_that() {
    let dead = |_: u64, cells: &mut FakeCells, _: &FakePort| cells.failing = true;
    let mut bench = Bench::new(ResetCause::PowerOn);
    let (hungry, _) = bench.run(60_000, ResetCause::PowerOn, dead);
    assert!(hungry >= 50_000, "the watchdog resets the processor: {hungry}");
    // After the reset that did not help.
    let mut bench = Bench::new(ResetCause::Watchdog);
    bench.board.port.put(&host_frame(&HostMessage::Hello(shared::wire::HostHello { schema: 1, oldest: 1 })));
    let (hungry, _) = bench.run(60_000, ResetCause::Watchdog, dead);
    assert_eq!(hungry, 0);
    let said = bench.board.port.take();
    assert!(support::messages(&said).iter().any(|message| matches!(
        message,
        DeviceMessage::Health(health)
            if health.plates.0 == [shared::wire::PlateState::Silent; 4] && health.reset == ResetCause::Watchdog
    )));
}

#[test]
fn a_converter_that_stops_in_operation_starves_the_watchdog() {
    let mut bench = Bench::new(ResetCause::Watchdog);
    let (hungry, _) = bench.run(30_000, ResetCause::Watchdog, |now, cells, _| cells.failing = now > 10_000);
    assert!((9_000..=11_000).contains(&hungry), "{hungry}");
}

#[test]
fn a_port_that_fails_starves_the_watchdog() {
    let mut bench = Bench::new(ResetCause::PowerOn);
    let (hungry, _) = bench.run(30_000, ResetCause::PowerOn, |now, _, port| port.set_broken(now > 10_000));
    assert!((9_000..=11_000).contains(&hungry), "{hungry}");
}

#[test]
fn a_host_that_does_not_read_starves_nobody() {
    let mut bench = Bench::new(ResetCause::PowerOn);
    bench.board = Board::boot(SharedFlash::new(16), FakePort::new(16), ResetCause::PowerOn).expect("boots");
    let (hungry, _) = bench.run(60_000, ResetCause::PowerOn, |_, _, _| {});
    assert_eq!(hungry, 0, "the port is full and the lane goes on");
}

#[test]
fn new_settings_ask_for_a_restart_once_they_are_told() {
    let mut bench = Bench::new(ResetCause::PowerOn);
    let mut settings = firmware::settings::factory();
    settings.name = "East".try_into().expect("short");
    bench.board.port.put(&host_frame(&HostMessage::SetSettings(settings.clone())));
    let clock = Rc::clone(&bench.clock);
    let cells = FakeCells::new(Deck::new(1), Rc::clone(&bench.clock), PERIOD_MS);
    let now = move || Milliseconds(clock.get());
    let port = bench.board.port.clone();
    let around = Around { tags: bench.tags.clone(), clock: now, watchdog: NoWatchdog, gate: NoGate };
    let mut lane = Lane::new(&mut bench.board.scale, cells, around, ResetCause::PowerOn);
    let turns: Vec<Turn> = (0..20)
        .map(|n| {
            bench.clock.set(n);
            lane.turn()
        })
        .collect();
    assert!(turns.contains(&Turn::Restart), "{turns:?}");
    assert!(support::messages(&port.take()).contains(&DeviceMessage::Settings(settings)));
}
