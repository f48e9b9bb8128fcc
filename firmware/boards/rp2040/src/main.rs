//! The lane device on an RP2040: four HX711 with one clock line, the host and the tag reader on two UARTs, the flash
//! shared out as `flash` says. The wiring stands in the README of the firmware. Not tried on hardware.
#![no_std]
#![no_main]
#![allow(unsafe_code, reason = "the boot block and memory at fixed addresses")]

mod flash;
#[path = "../../../src/bin/mps2/stack.rs"]
mod stack;
mod uart;
mod watchdog;

use core::panic::PanicInfo;
use cortex_m::{prelude::_embedded_hal_adc_OneShot, singleton};
use cortex_m_rt::{ExceptionFrame, exception};
use firmware::{
    blocking_flash::BlockingFlash,
    gate::pins::{FloatingPin, GatePins},
    health::Vitals,
    journal::{Journal, Layout},
    lane::{Around, Lane, Turn},
    load_cells::hx711::{Gain, Hx711Bank},
    orders::Orders,
    scale::{Identity, Scale},
    settings::Store,
    update::VERSION,
};
use rp2040_hal::{
    self as hal, Adc, Clock, Sio, Timer,
    adc::AdcPin,
    clocks::init_clocks_and_plls,
    fugit::RateExtU32,
    gpio::{
        FunctionNull, FunctionSioOutput, FunctionUart, Pin, PinState, Pins, PullDown, PullNone, PullUp, bank0,
    },
    pac,
    uart::{DataBits, Enabled, StopBits, UartConfig, UartPeripheral},
    watchdog::ScratchRegister,
};
use shared::{
    analysis::Analyser,
    units::Milliseconds,
    wire::{
        DeviceId, ResetCause,
        update::{MARK_BYTES, program_mark},
    },
};
use watchdog::Dog;

/// The converters' rate with their RATE pin high, Hz.
const RATE_HZ: u16 = 80;
/// The crystal, Hz.
const CRYSTAL_HZ: u32 = 12_000_000;
/// Time between two measurements of the supply, ms (our choice: as often as the health message).
const SUPPLY_EVERY_MS: u64 = 60_000;
/// What a scratch register holds after a panic.
const PANICKED: u32 = 0x4650_4C32;

const BOARD: &str = "rp2040";
/// By which a person's program knows what this image is.
#[used]
static MARK: [u8; MARK_BYTES] = program_mark(BOARD, VERSION);

type Flash = BlockingFlash<flash::Flash>;
type Serial<D, T, R> =
    UartPeripheral<Enabled, D, (Pin<T, FunctionUart, PullNone>, Pin<R, FunctionUart, PullUp>)>;
type Link = uart::Port<
    pac::UART0,
    (Pin<bank0::Gpio0, FunctionUart, PullNone>, Pin<bank0::Gpio1, FunctionUart, PullUp>),
>;
type Device = Scale<'static, Link, Flash>;

/// The gate's output: after a reset this part pulls it low by itself, weakly.
struct GatePin(Pin<bank0::Gpio10, FunctionNull, PullDown>);

impl FloatingPin for GatePin {
    type Driven = Pin<bank0::Gpio10, FunctionSioOutput, PullDown>;
    fn drive(self, high: bool) -> Self::Driven {
        self.0.into_push_pull_output_in_state(if high { PinState::High } else { PinState::Low })
    }
}

#[hal::entry]
fn main() -> ! {
    let Some(mut p) = pac::Peripherals::take() else { hal::reset() };
    let chip = p.VREG_AND_CHIP_RESET.chip_reset().read();
    let (power_on, pin) = (chip.had_por().bit_is_set(), chip.had_run().bit_is_set());
    let why = p.WATCHDOG.reason().read();
    let (hung, asked) = (why.timer().bit_is_set(), why.force().bit_is_set());
    let mut dog = hal::Watchdog::new(p.WATCHDOG);
    let panicked = dog.read_scratch(ScratchRegister::Scratch0) == PANICKED;
    dog.write_scratch(ScratchRegister::Scratch0, 0);
    let reset = match (panicked, hung, asked, pin, power_on) {
        (true, ..) => ResetCause::Panic,
        (_, true, ..) => ResetCause::Watchdog,
        (_, _, true, ..) => ResetCause::Software,
        (.., true, _) => ResetCause::Pin,
        (.., true) => ResetCause::PowerOn,
        _ => ResetCause::Unknown,
    };
    let Ok(clocks) =
        init_clocks_and_plls(CRYSTAL_HZ, p.XOSC, p.CLOCKS, p.PLL_SYS, p.PLL_USB, &mut p.RESETS, &mut dog)
    else {
        hal::reset()
    };
    let timer = Timer::new(p.TIMER, &mut p.RESETS, &clocks);
    let dog = Dog::start(dog);

    let pins = Pins::new(p.IO_BANK0, p.PADS_BANK0, Sio::new(p.SIO).gpio_bank0, &mut p.RESETS);
    let data = [
        pins.gpio3.into_pull_up_input().into_dyn_pin(),
        pins.gpio4.into_pull_up_input().into_dyn_pin(),
        pins.gpio5.into_pull_up_input().into_dyn_pin(),
        pins.gpio6.into_pull_up_input().into_dyn_pin(),
    ];
    let cells = Hx711Bank::new(pins.gpio2.into_push_pull_output(), data, timer, Gain::X128);
    let set = |baud: u32| UartConfig::new(baud.Hz(), DataBits::Eight, None, StopBits::One);
    let clock_hz = clocks.peripheral_clock.freq();
    let host: Result<Serial<pac::UART0, bank0::Gpio0, bank0::Gpio1>, _> =
        UartPeripheral::new(p.UART0, (pins.gpio0.reconfigure(), pins.gpio1.reconfigure()), &mut p.RESETS)
            .enable(set(115_200), clock_hz);
    let reader: Result<Serial<pac::UART1, bank0::Gpio8, bank0::Gpio9>, _> =
        UartPeripheral::new(p.UART1, (pins.gpio8.reconfigure(), pins.gpio9.reconfigure()), &mut p.RESETS)
            .enable(set(9_600), clock_hz);
    let (Ok(host), Ok(reader)) = (host, reader) else { hal::reset() };
    let (link, tags) = (uart::Port(host), uart::Port(reader));

    let identity =
        Identity { device: device(), board: BOARD, firmware: VERSION, reset, full_scale: 0x7F_FFFF };
    let Some(scale) = scale(link, identity) else { hal::reset() };
    let clock = move || Milliseconds(timer.get_counter().ticks() / 1_000);
    let gate = GatePins::new(GatePin(pins.gpio10), pins.gpio11.into_pull_up_input());
    let mut lane = Lane::new(scale, cells, Around { tags, clock, watchdog: dog, gate }, reset);
    let mut converter = Adc::new(p.ADC, &mut p.RESETS);
    let mut supply = AdcPin::new(pins.gpio29.into_floating_input()).ok();
    let mut measured_at = Milliseconds(0);
    loop {
        if lane.turn() == Turn::Restart {
            hal::reset();
        }
        let now = lane.now();
        if now >= measured_at {
            measured_at = Milliseconds(now.0 + SUPPLY_EVERY_MS);
            let counts: Option<u16> = supply.as_mut().and_then(|pin| converter.read(pin).ok());
            lane.scale().vitals(Vitals {
                // 12 bits of 3.3 V behind a divider by three, as the common boards have it.
                supply_mv: counts.and_then(|counts| u16::try_from(u32::from(counts) * 9_900 / 4_096).ok()),
                temperature_dc: None,
                stack_high_water: stack::high_water(),
            });
        }
    }
}

/// The number of the flash, which the maker gives each its own.
fn device() -> DeviceId {
    let mut number = [0; 8];
    // SAFETY: no interrupt runs and the second core sleeps.
    cortex_m::interrupt::free(|_| unsafe { rp2040_flash::flash::flash_unique_id(&mut number, true) });
    DeviceId(u64::from_be_bytes(number))
}

/// The application in its place, on the journal of the last boots.
#[inline(never)]
fn scale(link: Link, identity: Identity) -> Option<&'static mut Device> {
    // SAFETY: called once, and the second core has never been started.
    let flash = BlockingFlash(unsafe { flash::Flash::from(flash::REST_AT) });
    let layout = Layout::with_second::<Flash>(flash::END - flash::REST_AT, flash::PROGRAM_BYTES).ok()?;
    let journal = Journal::open(flash, &layout).ok()?;
    let journal = singleton!(: Journal<Flash> = journal)?;
    let (store, mut settings) = Store::load(journal.flash(), &layout);
    // The rate is the converters', whatever was set.
    settings.rate_hz = RATE_HZ;
    let analyser = singleton!(: Analyser = Analyser::new(f32::from(RATE_HZ)))?;
    let orders = singleton!(: Orders = Orders::closed(&layout))?;
    orders.start(journal.flash(), store.gate());
    singleton!(: Device = Scale::new(identity, link, journal, (store, settings), analyser, orders))
}

/// Starts again, and leaves word of why.
fn broken() -> ! {
    // SAFETY: nothing else runs any more.
    unsafe { (*pac::WATCHDOG::ptr()).scratch0().write(|w| w.bits(PANICKED)) };
    hal::reset()
}

#[exception]
unsafe fn HardFault(_: &ExceptionFrame) -> ! {
    broken()
}

#[panic_handler]
fn panic(_: &PanicInfo<'_>) -> ! {
    broken()
}
