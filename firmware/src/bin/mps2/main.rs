//! The lane device on an emulated Cortex-M4F: wiring only.
//!
//! UART0 is the link to the host, UART1 takes recorded readings; the loop is the lane's. SysTick counts milliseconds.
#![no_std]
#![no_main]
#![allow(unsafe_code, reason = "registers, linker symbols and memory at fixed addresses")]

mod cost;
mod play;
mod psram;
mod stack;
mod uart;
mod watchdog;

use core::{
    panic::PanicInfo,
    sync::atomic::{AtomicU32, Ordering},
};
use cortex_m::peripheral::{SCB, SYST, syst::SystClkSource};
use cortex_m_rt::{ExceptionFrame, entry, exception};
use cortex_m_semihosting::debug;
use cost::{Cost, say};
use embedded_storage_async::nor_flash::NorFlash;
use firmware::{
    blocking_flash::BlockingFlash,
    health::Vitals,
    journal::{Journal, Layout},
    lane::{Around, Lane, NoWatchdog, Turn, Watchdog},
    memory_flash::{MemoryFlash, PAGE_BYTES},
    orders::Orders,
    scale::{Identity, Scale},
    settings::Store,
    update::VERSION,
};
use play::{Asked, Played, Reading};
use shared::{
    analysis::Analyser,
    units::Milliseconds,
    wire::{
        DeviceId, ResetCause,
        update::{MARK_BYTES, program_mark},
    },
};
use static_cell::StaticCell;
use uart::Uart;

/// Clock of the board, ticks a millisecond. The emulator counts 40 instructions to a tick (1 ns each).
const TICKS_A_MS: u32 = 25_000;
/// Turns without anything coming in before the processor sleeps until the next millisecond.
const SPIN: u32 = 2_000;

/// Panics without a quiet moment between them after which the emulator ends.
const MOST_PANICS: u32 = 3;

type Flash = BlockingFlash<MemoryFlash<&'static mut [u8]>>;
type Device = Scale<'static, Uart, Flash>;

const BOARD: &str = "mps2-an386";
/// By which a person's program knows what this image is.
#[used]
static MARK: [u8; MARK_BYTES] = program_mark(BOARD, VERSION);

/// The version, read where it is marked: the tests make other versions of the image by its mark.
fn version() -> [u8; 3] {
    let [.., major, minor, patch, _] = *core::hint::black_box(&MARK);
    [major, minor, patch]
}

static MILLISECONDS: AtomicU32 = AtomicU32::new(0);
static JOURNAL: StaticCell<Journal<Flash>> = StaticCell::new();
static ANALYSER: StaticCell<Analyser> = StaticCell::new();
static ORDERS: StaticCell<Orders> = StaticCell::new();
static PLAYED: StaticCell<Played<Uart>> = StaticCell::new();
static SCALE: StaticCell<Device> = StaticCell::new();

#[entry]
fn main() -> ! {
    let Some(mut core) = cortex_m::Peripherals::take() else { fail("the peripherals are taken") };
    core.SYST.set_clock_source(SystClkSource::Core);
    core.SYST.set_reload(TICKS_A_MS - 1);
    core.SYST.clear_current();
    core.SYST.enable_counter();
    core.SYST.enable_interrupt();
    // SAFETY: the two UARTs of the board, each used here only.
    let (link, second) = unsafe { (Uart::new(0x4000_4000), Uart::new(0x4000_5000)) };
    let layout = Layout::with_second::<Flash>(psram::FLASH_BYTES as u32, psram::PROGRAM_BYTES as u32);
    let Ok(layout) = layout else { fail("the flash is too small") };
    let Some(journal) = open(&layout) else { fail("the journal cannot be opened") };
    let analyser = analyser(rate(journal, &layout));
    run(begin(link, journal, analyser, &layout), second)
}

// Each step of the start has a frame of its own, which is gone when the next one begins.

#[inline(never)]
fn open(layout: &Layout) -> Option<&'static mut Journal<Flash>> {
    let journal =
        JOURNAL.init_with(|| Journal::closed(BlockingFlash(psram::flash(psram::FLASH_BYTES)), layout));
    journal.start().ok()?;
    Some(journal)
}

#[inline(never)]
fn rate(journal: &mut Journal<Flash>, layout: &Layout) -> f32 {
    f32::from(Store::load(journal.flash(), layout).1.rate_hz)
}

#[inline(never)]
fn analyser(rate_hz: f32) -> &'static mut Analyser {
    ANALYSER.init_with(|| Analyser::new(rate_hz))
}

#[inline(never)]
fn orders(layout: &Layout) -> &'static mut Orders {
    ORDERS.init_with(|| Orders::closed(layout))
}

#[inline(never)]
fn begin(
    link: Uart,
    journal: &'static mut Journal<Flash>,
    analyser: &'static mut Analyser,
    layout: &Layout,
) -> &'static mut Device {
    let identity = Identity {
        device: DeviceId(0x0386_0386),
        board: BOARD,
        firmware: version(),
        reset: psram::reset_cause(),
        full_scale: 0x7F_FFFF,
    };
    let settings = Store::load(journal.flash(), layout);
    let orders = orders(layout);
    orders.start(journal.flash(), settings.0.gate());
    SCALE.init_with(|| Scale::new(identity, link, journal, settings, analyser, orders))
}

#[inline(never)]
fn played(second: Uart) -> &'static Played<Uart> {
    PLAYED.init_with(|| Played::new(second, SYST::get_current, milliseconds))
}

#[inline(never)]
fn run(scale: &'static mut Device, second: Uart) -> ! {
    let played = played(second);
    let around = Around { tags: played, clock: played, watchdog: NoWatchdog, gate: played };
    let mut lane = Lane::new(scale, played, around, ResetCause::PowerOn);
    let mut cost = Cost::default();
    let mut leaving = None;
    let (mut idle, mut heard) = (0_u32, 0);
    let mut measured = None;
    // Recorded readings come when they come: it is enough that the loop turns.
    let mut dog = watchdog::Cmsdk::start();
    loop {
        dog.feed();
        let answered = lane.scale().answered();
        let turn = lane.turn();
        if let Some(Reading { before, after, judged }) = played.reading.take() {
            cost.count(before, after, lane.scale().is_occupied());
            if lane.scale().answered() != answered {
                cost.answer(after, judged);
            }
        }
        match played.take_asked() {
            Some(Asked::Finish { acknowledged }) => {
                lane.scale().finish();
                leaving = Some(acknowledged);
            }
            Some(Asked::Panic) => panic!("asked for"),
            Some(Asked::Count) => cost = Cost::default(),
            Some(Asked::Reset) => restart(),
            None if turn == Turn::Restart => restart(),
            None => {}
        }
        let this_second = Some(milliseconds().0 / 1_000);
        if measured != this_second {
            measured = this_second;
            let stack_high_water = stack::high_water();
            lane.scale().vitals(Vitals { supply_mv: None, temperature_dc: None, stack_high_water });
        }
        if let Some(acknowledged) = leaving
            && (!acknowledged || lane.scale().journal().waiting() == 0)
        {
            cost.tell();
            leave(debug::EXIT_SUCCESS);
        }
        // While the host speaks there is no sleep: the part holds one byte, and the next comes at once.
        let spoken = core::mem::replace(&mut heard, lane.scale().port().read) != heard;
        let busy = spoken || turn == Turn::Sampled || played.is_busy();
        idle = if busy { 0 } else { idle.saturating_add(1) };
        if idle > SPIN {
            psram::forget_panics();
            cortex_m::asm::wfi();
        }
    }
}

fn milliseconds() -> Milliseconds {
    Milliseconds(u64::from(MILLISECONDS.load(Ordering::Relaxed)))
}

fn restart() -> ! {
    psram::note_restart();
    SCB::sys_reset()
}

fn fail(why: &str) -> ! {
    say(why);
    leave(debug::EXIT_FAILURE)
}

fn leave(status: debug::ExitStatus) -> ! {
    loop {
        debug::exit(status);
    }
}

#[exception]
fn SysTick() {
    // Nobody else writes it, and the smaller processors have no such exchange.
    MILLISECONDS.store(MILLISECONDS.load(Ordering::Relaxed).wrapping_add(1), Ordering::Relaxed);
}

#[exception]
unsafe fn HardFault(_: &ExceptionFrame) -> ! {
    broken()
}

#[panic_handler]
fn panic(_: &PanicInfo<'_>) -> ! {
    broken()
}

/// Starts again, and tells the host why. Where that does not help, the emulator ends.
fn broken() -> ! {
    if psram::note_panic() > MOST_PANICS {
        leave(debug::EXIT_FAILURE);
    }
    SCB::sys_reset()
}

// The page size is what the layout is made of.
const _: () = assert!(<Flash as NorFlash>::ERASE_SIZE == PAGE_BYTES);
