//! The lane device on an nRF52840: an ADS131M04 on SPI, the host and the tag reader on two UARTs, the flash
//! shared out as `flash_map` says. The wiring stands in the README of the firmware. Not tried on hardware.
#![no_std]
#![no_main]
#![allow(unsafe_code, reason = "registers and memory at fixed addresses")]

mod flash_map;
#[path = "../../../src/bin/mps2/stack.rs"]
mod stack;
mod uarte;
mod watchdog;

use core::{convert::Infallible, panic::PanicInfo};
use cortex_m::{peripheral::SCB, singleton};
use cortex_m_rt::{ExceptionFrame, entry, exception};
use embedded_hal_bus::spi::ExclusiveDevice;
use firmware::{
    blocking_flash::BlockingFlash,
    gate::pins::{FloatingPin, GatePins},
    health::Vitals,
    journal::{Journal, Layout},
    lane::{Around, Lane, Turn},
    load_cells::ads131m04::{Ads131m04, Gain, Oversampling},
    orders::Orders,
    scale::{Identity, Scale},
    settings::Store,
    update::VERSION,
};
use flash_map::{FLASH_AT, FLASH_BYTES, PROGRAM_BYTES};
use nrf52840_hal::{
    Clocks, Delay, Rtc, Saadc, Spim, Temp, Uarte,
    clocks::LfOscConfiguration,
    gpio::{Disconnected, Level, Output, PushPull, p0, p1},
    nvmc::Nvmc,
    pac,
    saadc::{InternalVdd, SaadcConfig},
    spim,
    uarte::{Baudrate, Parity, Pins},
};
use shared::{
    analysis::Analyser,
    units::Milliseconds,
    wire::{
        DeviceId, ResetCause,
        update::{MARK_BYTES, program_mark},
    },
};
use watchdog::watchdog;

/// The converter's rate with a clock of 8.192 MHz and the highest oversampling, Hz.
const RATE_HZ: u16 = 250;
/// Time between two measurements of the temperature, ms (our choice: as often as the health message).
const TEMPERATURE_EVERY_MS: u64 = 60_000;
/// What the retained register holds after a panic.
const PANICKED: u8 = 0xFA;

const BOARD: &str = "nrf52840";
/// By which a person's program knows what this image is.
#[used]
static MARK: [u8; MARK_BYTES] = program_mark(BOARD, VERSION);

type Flash = BlockingFlash<Nvmc<pac::NVMC>>;
type Link = uarte::Port<pac::UARTE0>;
type Device = Scale<'static, Link, Flash>;

/// The crystal clock: it goes on while the flash holds the processor up.
struct Crystal {
    counter: Rtc<pac::RTC1>,
    last: u32,
    wraps: u64,
}

impl firmware::lane::Clock for Crystal {
    /// To be asked at least once in the 512 s after which the counter begins again.
    fn now(&mut self) -> Milliseconds {
        let ticks = self.counter.get_counter();
        if ticks < self.last {
            self.wraps += 1 << 24;
        }
        self.last = ticks;
        // 1,000 / 32,768 = 125 / 4,096.
        Milliseconds((self.wraps + u64::from(ticks)) * 125 / 4_096)
    }
}

/// The gate's output.
struct GatePin(p1::P1_03<Disconnected>);

impl FloatingPin for GatePin {
    type Driven = p1::P1_03<Output<PushPull>>;
    fn drive(self, high: bool) -> Self::Driven {
        self.0.into_push_pull_output(if high { Level::High } else { Level::Low })
    }
}

#[entry]
fn main() -> ! {
    let (Some(p), Some(core)) = (pac::Peripherals::take(), cortex_m::Peripherals::take()) else { restart() };
    let reset = reset_cause(&p.POWER);
    let device = DeviceId(
        u64::from(p.FICR.deviceid[1].read().bits()) << 32 | u64::from(p.FICR.deviceid[0].read().bits()),
    );
    Clocks::new(p.CLOCK)
        .enable_ext_hfosc()
        .set_lfclk_src_external(LfOscConfiguration::NoExternalNoBypass)
        .start_lfclk();
    let Some(dog) = watchdog(p.WDT) else { restart() };
    let Ok(counter) = Rtc::new(p.RTC1, 0) else { restart() };
    counter.enable_counter();
    let clock = Crystal { counter, last: 0, wraps: 0 };

    let port0 = p0::Parts::new(p.P0);
    let port1 = p1::Parts::new(p.P1);
    let spi = Spim::new(
        p.SPIM2,
        spim::Pins {
            sck: Some(port0.p0_03.into_push_pull_output(Level::Low).degrade()),
            mosi: Some(port0.p0_04.into_push_pull_output(Level::Low).degrade()),
            miso: Some(port0.p0_28.into_floating_input().degrade()),
        },
        spim::Frequency::M8,
        spim::MODE_1,
        0,
    );
    let select = port0.p0_29.into_push_pull_output(Level::High);
    let Ok(spi) = ExclusiveDevice::new_no_delay(spi, select);
    let ready = port0.p0_30.into_pullup_input();
    let cells = Ads131m04::new(spi, ready, Delay::new(core.SYST), Oversampling::X16384, Gain::X128);

    let host = Pins {
        txd: port0.p0_06.into_push_pull_output(Level::High).degrade(),
        rxd: port0.p0_08.into_floating_input().degrade(),
        rts: Some(port0.p0_05.into_push_pull_output(Level::High).degrade()),
        cts: Some(port0.p0_07.into_floating_input().degrade()),
    };
    let reader = Pins {
        txd: port1.p1_02.into_push_pull_output(Level::High).degrade(),
        rxd: port1.p1_01.into_floating_input().degrade(),
        rts: None,
        cts: None,
    };
    let host = Uarte::new(p.UARTE0, host, Parity::EXCLUDED, Baudrate::BAUD115200);
    let reader = Uarte::new(p.UARTE1, reader, Parity::EXCLUDED, Baudrate::BAUD9600);
    let (Some(host_in), Some(host_out), Some(tag_in), Some(tag_out)) = (
        singleton!(: [u8; 1] = [0]),
        singleton!(: [u8; uarte::OUT] = [0; uarte::OUT]),
        singleton!(: [u8; 1] = [0]),
        singleton!(: [u8; uarte::OUT] = [0; uarte::OUT]),
    ) else {
        restart()
    };
    let link = uarte::Port::new(host, host_in, host_out);
    let tags = uarte::Port::new(reader, tag_in, tag_out);

    let identity = Identity { device, board: BOARD, firmware: VERSION, reset, full_scale: 0x7F_FFFF };
    let Some(scale) = scale(p.NVMC, link, identity) else { restart() };
    let mut temperature = Temp::new(p.TEMP);
    let mut supply = Supply(Saadc::new(p.SAADC, SaadcConfig::default()));
    let mut measured_at = Milliseconds(0);
    let gate = GatePins::new(GatePin(port1.p1_03), port1.p1_04.into_pullup_input());
    let mut lane = Lane::new(scale, cells, Around { tags, clock, watchdog: dog, gate }, reset);
    loop {
        if lane.turn() == Turn::Restart {
            restart();
        }
        let now = lane.now();
        if now >= measured_at {
            measured_at = Milliseconds(now.0 + TEMPERATURE_EVERY_MS);
            let tenths = temperature.measure().to_bits() * 10 / 4;
            lane.scale().vitals(Vitals {
                supply_mv: supply.millivolts(),
                temperature_dc: i16::try_from(tenths).ok(),
                stack_high_water: stack::high_water(),
            });
        }
    }
}

/// The application in its place, on the journal of the last boots.
#[inline(never)]
fn scale(nvmc: pac::NVMC, link: Link, identity: Identity) -> Option<&'static mut Device> {
    // SAFETY: the program ends below it (program.x), and only the driver of the flash uses it.
    let pages = unsafe { core::slice::from_raw_parts_mut(FLASH_AT as *mut u8, FLASH_BYTES) };
    let layout = Layout::with_second::<Flash>(FLASH_BYTES as u32, PROGRAM_BYTES as u32).ok()?;
    let journal = Journal::open(BlockingFlash(Nvmc::new(nvmc, pages)), &layout).ok()?;
    let journal = singleton!(: Journal<Flash> = journal)?;
    let (store, mut settings) = Store::load(journal.flash(), &layout);
    // The rate is the converter's, whatever was set.
    settings.rate_hz = RATE_HZ;
    let analyser = singleton!(: Analyser = Analyser::new(f32::from(RATE_HZ)))?;
    let orders = singleton!(: Orders = Orders::closed(&layout))?;
    orders.start(journal.flash(), store.gate());
    singleton!(: Device = Scale::new(identity, link, journal, (store, settings), analyser, orders))
}

/// The supply of the processor, measured by itself.
struct Supply(Saadc);

impl Supply {
    /// 14 bits of 3.6 V: the reference of .6 V at a gain of a sixth.
    fn millivolts(&mut self) -> Option<u16> {
        let counts = self.0.read_channel(&mut InternalVdd).ok()?;
        u16::try_from(i32::from(counts) * 3_600 / 16_384).ok()
    }
}

/// Why the processor started, asked once: the bits stay until they are cleared.
fn reset_cause(power: &pac::POWER) -> ResetCause {
    let why = power.resetreas.read();
    let panicked = power.gpregret.read().bits() == u32::from(PANICKED);
    power.gpregret.reset();
    // SAFETY: writing ones clears.
    power.resetreas.write(|w| unsafe { w.bits(why.bits()) });
    if panicked {
        ResetCause::Panic
    } else if why.dog().bit_is_set() {
        ResetCause::Watchdog
    } else if why.lockup().bit_is_set() {
        ResetCause::Panic
    } else if why.sreq().bit_is_set() {
        ResetCause::Software
    } else if why.resetpin().bit_is_set() {
        ResetCause::Pin
    } else {
        ResetCause::PowerOn
    }
}

fn restart() -> ! {
    SCB::sys_reset()
}

/// Starts again, and leaves word of why.
fn broken() -> ! {
    // SAFETY: nothing else runs any more.
    let power = unsafe { &*pac::POWER::ptr() };
    power.gpregret.write(|w| unsafe { w.gpregret().bits(PANICKED) });
    restart()
}

#[exception]
unsafe fn HardFault(_: &ExceptionFrame) -> ! {
    broken()
}

#[panic_handler]
fn panic(_: &PanicInfo<'_>) -> ! {
    broken()
}

// The port cannot fail, so that only a host that does not answer holds up the link.
const _: fn(Infallible) = |never| match never {};
