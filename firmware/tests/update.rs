//! A new program, the loader, and power cuts at every byte of what they write: what is run is the old program or the new one,
//! whole, and a program that does not come up gives way to the one before.
//!
//! `-- --show-output` prints at how many places the power was cut.

#![allow(clippy::print_stdout, reason = "the figures are what it is run for")]

use embassy_boot::State;
use embassy_futures::block_on;
use embedded_storage_async::nor_flash::NorFlash;
use firmware::{
    fakes::SharedFlash,
    journal::Layout,
    lane::Watchdog,
    loader::{Slots, prepare},
    update::{Programs, TRAILER_BYTES, trailer},
};
use shared::{
    limits::MAX_TRACE_DATA_BYTES,
    wire::{Refusal, UpdateHead, UpdatePart, UpdateStage, crc32},
};
use std::{cell::Cell, ops::ControlFlow};

const PAGE: u32 = 4_096;
const BOARD: &str = "fake";
/// Starts that a story needs at most, one more after a power cut included.
const STARTS: usize = 8;

/// A flash of two slots of so many pages, and the programs that are told apart by their bytes.
struct World {
    flash: SharedFlash,
    layout: Layout,
    slots: Slots,
}

/// What came of a start of the device.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Ran {
    Old,
    New,
}

impl World {
    fn new(pages: u32) -> Self {
        let layout =
            Layout::with_second::<SharedFlash>((18 + pages) * PAGE, pages * PAGE).expect("large enough");
        let active = layout.state.end..layout.state.end + pages * PAGE;
        let mut flash = SharedFlash::new((active.end / PAGE) as usize);
        // As a probe has written it: nothing at the end of the slot tells of it.
        block_on(flash.write(active.start, &program(b'o', pages))).expect("alive");
        let slots = Slots { active, second: layout.second.clone(), state: layout.state.clone() };
        Self { flash, layout, slots }
    }

    fn copy(&self) -> Self {
        Self { flash: self.flash.copy(), layout: self.layout.clone(), slots: self.slots.clone() }
    }

    const fn pages(&self) -> u32 {
        (self.slots.active.end - self.slots.active.start) / PAGE
    }

    /// Starts the device: the loader, and then the program that lies in the first slot. `None` where the power went.
    fn start(&mut self) -> Option<(Ran, Programs)> {
        prepare(self.flash.clone(), &self.slots, Fed(&Cell::new(0)), &mut [0; 64]).ok()?;
        let mut bytes = vec![0; (self.pages() * PAGE - TRAILER_BYTES) as usize];
        block_on(embedded_storage_async::nor_flash::ReadNorFlash::read(
            &mut self.flash,
            self.slots.active.start,
            &mut bytes,
        ))
        .ok()?;
        let ran = match bytes[0] {
            b'o' => Ran::Old,
            b'n' => Ran::New,
            other => panic!("no program begins with {other}"),
        };
        assert!(bytes == program(bytes[0], self.pages()), "{ran:?} is torn");
        let mut programs = Programs::closed(&self.layout);
        programs.start(&mut self.flash);
        Some((ran, programs))
    }

    /// Lets the old program bring in the new one.
    fn bring(&mut self, programs: &mut Programs) -> Result<(), Refusal> {
        let program = program(b'n', self.pages());
        let image = crc32(&program);
        let head = UpdateHead { image, bytes: program.len() as u32, board: BOARD.try_into().expect("short") };
        programs.begin::<SharedFlash>(&head, BOARD)?;
        for (n, data) in program.chunks(MAX_TRACE_DATA_BYTES).enumerate() {
            let at = (n * MAX_TRACE_DATA_BYTES) as u32;
            programs
                .part(&mut self.flash, &UpdatePart { image, at, data: data.iter().copied().collect() })?;
        }
        Ok(())
    }
}

struct Fed<'c>(&'c Cell<u32>);

impl Watchdog for Fed<'_> {
    fn feed(&mut self) {
        self.0.set(self.0.get() + 1);
    }
}

/// A program that fills its slot; no two pages are alike.
fn program(first: u8, pages: u32) -> Vec<u8> {
    let bytes = pages * PAGE - TRAILER_BYTES;
    (0..bytes).map(|n| if n == 0 { first } else { (n as u8).wrapping_mul(first) ^ (n / 256) as u8 }).collect()
}

/// The new program comes up: what each start does, until it is to stay.
fn comes_up(world: &mut World, settled: &mut bool) -> ControlFlow<()> {
    let Some((ran, mut programs)) = world.start() else { return ControlFlow::Continue(()) };
    match ran {
        Ran::Old => {
            assert!(!*settled, "the program that was to stay is gone");
            // A cut may have left a whole program waiting or none: a host brings it again.
            let _ = world.bring(&mut programs);
            ControlFlow::Continue(())
        }
        Ran::New if programs.on_trial() => {
            programs.settle(&mut world.flash);
            *settled |= !programs.on_trial();
            ControlFlow::Continue(())
        }
        Ran::New => ControlFlow::Break(()),
    }
}

/// The new program never comes up: it is tried once for each time that it was brought.
fn never_comes_up(world: &mut World, tried: &mut u32) -> ControlFlow<()> {
    let Some((ran, mut programs)) = world.start() else { return ControlFlow::Continue(()) };
    match ran {
        Ran::Old if *tried > 0 => ControlFlow::Break(()),
        Ran::Old => {
            let _ = world.bring(&mut programs);
            ControlFlow::Continue(())
        }
        Ran::New => {
            *tried += 1;
            ControlFlow::Continue(())
        }
    }
}

/// Tells a story once for every unit of writing and erasing at which the power may go, and then to its end.
fn with_cuts<T: Default>(pages: u32, step: impl Fn(&mut World, &mut T) -> ControlFlow<()>, ends_with: Ran) {
    let before = World::new(pages);
    let mut whole = before.copy();
    let mut told = T::default();
    let starts = (0..STARTS).take_while(|_| step(&mut whole, &mut told).is_continue()).count();
    assert!(starts < STARTS, "it comes to its end without a cut");
    let cost = whole.flash.used() - before.flash.used();
    assert!(cost > 3 * pages * PAGE, "{cost}");
    println!("power cut at each of {cost} bytes written or pieces erased, until {ends_with:?} stays");
    for cut in 0..cost {
        let mut world = before.copy();
        let mut told = T::default();
        world.flash.die_after(cut);
        while !world.flash.is_dead() {
            let _ = step(&mut world, &mut told);
        }
        world.flash.revive();
        let ended = (0..STARTS).any(|_| step(&mut world, &mut told).is_break());
        assert!(ended, "cut after {cut} of {cost}");
        for _ in 0..2 {
            assert_eq!(world.start().expect("alive").0, ends_with, "cut after {cut} of {cost}");
        }
    }
}

#[test]
fn a_power_cut_at_any_byte_leaves_the_old_program_or_the_new_and_the_new_one_gets_there() {
    with_cuts(1, comes_up, Ran::New);
}

#[test]
fn a_power_cut_at_any_byte_of_falling_back_leaves_the_old_program() {
    with_cuts(1, never_comes_up, Ran::Old);
}

#[test]
fn the_loader_tries_a_program_once_and_says_so() {
    let mut world = World::new(3);
    let fed = Cell::new(0);
    let prepared = |world: &World| prepare(world.flash.clone(), &world.slots, Fed(&fed), &mut [0; 256]);
    assert_eq!(prepared(&world), Ok(State::Boot));
    let (ran, mut programs) = world.start().expect("alive");
    assert_eq!(ran, Ran::Old);
    world.bring(&mut programs).expect("it is taken");
    fed.set(0);
    assert_eq!(prepared(&world), Ok(State::Swap));
    // Three pages there and back are six erasures and as many times sixteen writes: the watchdog is fed at each.
    assert!(fed.get() > 100, "{}", fed.get());
    assert_eq!(prepared(&world), Ok(State::Swap), "nobody said that it came up: back");
    assert_eq!(prepared(&world), Ok(State::Revert));
    let (ran, programs) = world.start().expect("alive");
    assert_eq!((ran, programs.state::<SharedFlash>(BOARD).stage), (Ran::Old, UpdateStage::FellBack));
}

#[test]
fn a_program_that_was_spoiled_in_its_slot_is_not_tried() {
    let mut world = World::new(2);
    let (_, mut programs) = world.start().expect("alive");
    world.bring(&mut programs).expect("it is taken");
    let pages = world.pages();
    let spoil = |world: &World, at: u32| {
        let mut copy = world.copy();
        block_on(copy.flash.write(copy.slots.second.start + at, &[0])).expect("alive");
        copy
    };
    // A byte of the program, one of what tells of it, and a program of an impossible length.
    let trailer_at = pages * PAGE - TRAILER_BYTES;
    for mut spoiled in [spoil(&world, 4_321), spoil(&world, trailer_at + 5)] {
        assert_eq!(spoiled.start().expect("alive").0, Ran::Old);
        assert_eq!(spoiled.start().expect("alive").0, Ran::Old);
    }
    let at = world.slots.second.start + trailer_at / PAGE * PAGE;
    block_on(world.flash.erase(at, at + PAGE)).expect("alive");
    let longer = trailer(pages * PAGE - TRAILER_BYTES + 1, 7);
    block_on(world.flash.write(world.slots.second.start + trailer_at, &longer)).expect("alive");
    assert_eq!(world.start().expect("alive").0, Ran::Old);
}
