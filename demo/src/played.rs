//! A milking as it happens: the device's own program in memory, on a TCP port, with the plates, the tag reader and the gate
//! played. So list, live page, plates, drafting and a broken plate can be watched without hardware.

use crate::herd::{Herd, Settings as HerdSettings};
use crate::lane::{Lane, Planned, Sink};
use anyhow::{Context, anyhow};
use firmware::fakes::{Board, FakePort, SharedFlash};
use firmware::journal::Layout;
use firmware::load_cells::{BOTTOM_CODE, Sample, TOP_CODE};
use firmware::scale::Moment;
use firmware::settings::{NOMINAL_KG_PER_COUNT, Store, factory};
use shared::plate::{PerPlate, Plate};
use shared::units::{Counts, Milliseconds};
use shared::wire::ResetCause;
use std::io::{ErrorKind, Read, Write};
use std::net::{TcpListener, TcpStream};

/// The device's flash: pages of 4 KiB, with room for a table of cows.
const FLASH_PAGES: u32 = 256;
/// Counts of each empty plate: a deck that was calibrated once.
const EMPTY: i32 = 1_000;
/// The first cow comes this long after the milking began to be played.
const AHEAD_MS: i64 = 3_000;
/// Empty plates after the last cow, ms: until she is off, and a gate may still move for her.
const AFTER_MS: u64 = 30_000;
/// What a broken plate reads of its load.
const BROKEN: f64 = 0.5;

/// What a device's converters and its tag reader give, ms after its start.
#[derive(Clone, Debug, Default)]
pub struct Milking {
    /// Readings, in order of time.
    readings: Vec<(u64, PerPlate<i32>)>,
    /// Lines of the tag reader, in order of time.
    tags: Vec<(u64, Vec<u8>)>,
    /// What the milking's clock showed when the device started, ms.
    start: Option<i64>,
}

impl Milking {
    fn clock(&mut self, millis: i64) -> u64 {
        let start = *self.start.get_or_insert(millis - AHEAD_MS);
        (millis - start).max(0) as u64
    }

    /// The first milking of the herd's day. With a plate that breaks in its middle, that one reads half from then on.
    ///
    /// # Errors
    /// Where the lane fails.
    pub fn of(herd: &Herd, breaks: Option<Plate>) -> anyhow::Result<Self> {
        let usual = |_: &Herd, _: usize, _: usize| -> Planned { None };
        let mut milking = Self::default();
        Lane::new(herd).milking(herd, 0, usual, &mut milking)?;
        milking.tags.sort();
        if let Some(plate) = breaks {
            milking.break_plate(plate);
        }
        Ok(milking)
    }

    fn break_plate(&mut self, plate: Plate) {
        let middle = self.tags.get(self.tags.len() / 2).map_or(0, |tag| tag.0);
        for (_, counts) in self.readings.iter_mut().filter(|reading| reading.0 >= middle) {
            counts[plate] = EMPTY + (f64::from(counts[plate] - EMPTY) * BROKEN).round() as i32;
        }
    }

    /// When it is over, ms.
    #[must_use]
    pub fn ends(&self) -> u64 {
        self.readings.last().map_or(0, |last| last.0) + AFTER_MS
    }
}

impl Sink for Milking {
    fn reading(&mut self, millis: i64, loads: &PerPlate<f64>) -> anyhow::Result<()> {
        let at = self.clock(millis);
        let code = |kg: f64| (kg / f64::from(NOMINAL_KG_PER_COUNT)).round() as i32 + EMPTY;
        self.readings.push((at, PerPlate(loads.0.map(|kg| code(kg).clamp(BOTTOM_CODE, TOP_CODE)))));
        Ok(())
    }

    fn tag(&mut self, millis: i64, animal_id: &str) -> anyhow::Result<()> {
        let at = self.clock(millis);
        self.tags.push((at, format!("{animal_id}\r\n").into_bytes()));
        Ok(())
    }
}

/// The device and what is played to it.
struct Played<'m> {
    milking: &'m Milking,
    board: Board,
    booted: u64,
    /// Time between two readings, ms.
    period: u64,
    /// Readings of the empty plates after the milking.
    after: u64,
    reading: usize,
    tag: usize,
    moved: bool,
}

impl<'m> Played<'m> {
    fn new(milking: &'m Milking, settings: &HerdSettings) -> anyhow::Result<Self> {
        let mut flash = SharedFlash::new(FLASH_PAGES as usize);
        let layout = Layout::of::<SharedFlash>(FLASH_PAGES * 4_096).map_err(|e| anyhow!("{e:?}"))?;
        let mut set = factory();
        set.rate_hz = settings.rate_hz as u16;
        set.zero = PerPlate([Counts(EMPTY); 4]);
        set.name = heapless::String::try_from("exit").map_err(|_| anyhow!("the lane's name is too long"))?;
        let (mut store, _) = Store::load(&mut flash, &layout);
        store.save(&mut flash, &set).map_err(|e| anyhow!("a herd's rate the device does not take: {e:?}"))?;
        let board = Board::boot(flash, FakePort::default(), ResetCause::PowerOn);
        let board = board.map_err(|e| anyhow!("the device does not boot: {e:?}"))?;
        let period = 1_000 / u64::from(set.rate_hz.max(1));
        Ok(Self { milking, board, booted: 0, period, after: 0, reading: 0, tag: 0, moved: false })
    }

    /// Lets the device live up to `now`, ms since it was first started. Says whether the gate has just been moved.
    fn live(&mut self, now: u64) -> anyhow::Result<bool> {
        let before = self.moved;
        while let Some((at, counts)) = self.milking.readings.get(self.reading).filter(|next| next.0 <= now) {
            self.reading += 1;
            while let Some((_, line)) = self.milking.tags.get(self.tag).filter(|tag| tag.0 <= *at) {
                self.tag += 1;
                let clock = self.clock(*at);
                line.iter().for_each(|byte| self.board.scale.tag_byte(clock, *byte));
            }
            self.board.scale.sample(self.clock(*at), &Sample { counts: PerPlate(counts.0.map(Counts)) });
            self.gate(*at);
        }
        if self.reading == self.milking.readings.len() {
            self.empty_until(now);
        }
        self.gate(now);
        let clock = self.clock(now);
        let talked = self.board.scale.talk(Moment { clock, timer: clock });
        talked.map_err(|e| anyhow!("the device's port: {e:?}"))?;
        if self.board.scale.wants_restart() {
            self.board
                .reboot(ResetCause::Software)
                .map_err(|e| anyhow!("the device does not boot: {e:?}"))?;
            self.booted = now;
        }
        Ok(self.moved && !before)
    }

    /// The empty plates after the last cow, which tremble by a count.
    fn empty_until(&mut self, now: u64) {
        let over = self.milking.readings.last().map_or(0, |last| last.0);
        while over + (self.after + 1) * self.period <= now {
            self.after += 1;
            let counts = Counts(EMPTY + (self.after % 3) as i32 - 1);
            let clock = self.clock(over + self.after * self.period);
            self.board.scale.sample(clock, &Sample { counts: PerPlate([counts; 4]) });
        }
    }

    fn gate(&mut self, now: u64) {
        let clock = self.clock(now);
        let high = self.board.scale.gate(Moment { clock, timer: clock }, false);
        let moves_high = self.board.scale.gate_settings().map(|gate| gate.moves_high);
        self.moved = high.is_some() && high == moves_high;
    }

    const fn clock(&self, at: u64) -> Milliseconds {
        Milliseconds(at.saturating_sub(self.booted))
    }
}

/// Plays a milking on a TCP port until it is over and a host has all of it. `now` is the time since the first host came, ms;
/// `moved` is called when the gate moves.
///
/// # Errors
/// Where the port or the device fails.
pub fn play(
    listener: &TcpListener,
    settings: &HerdSettings,
    milking: &Milking,
    mut now: impl FnMut() -> u64,
    mut moved: impl FnMut(),
) -> anyhow::Result<()> {
    let mut played = Played::new(milking, settings)?;
    loop {
        let (mut stream, _) = listener.accept().context("no host came")?;
        stream.set_read_timeout(Some(std::time::Duration::from_millis(5)))?;
        stream.set_nodelay(true)?;
        loop {
            let now = now();
            if played.live(now)? {
                moved();
            }
            if now >= milking.ends() && played.board.scale.journal().waiting() == 0 {
                return Ok(());
            }
            if carry(&mut stream, &played.board.port).is_err() {
                // A host that is gone may come back.
                break;
            }
        }
        // What was on the line is gone.
        let _ = played.board.port.take();
    }
}

/// Carries bytes both ways; an error is the end of the line.
fn carry(stream: &mut TcpStream, port: &FakePort) -> std::io::Result<()> {
    stream.write_all(&port.take())?;
    let mut bytes = [0; 1024];
    match stream.read(&mut bytes) {
        Ok(0) => Err(ErrorKind::UnexpectedEof.into()),
        Ok(length) => {
            port.put(&bytes[..length]);
            Ok(())
        }
        Err(error) if matches!(error.kind(), ErrorKind::WouldBlock | ErrorKind::TimedOut) => Ok(()),
        Err(error) => Err(error),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_plate_breaks_in_the_middle_and_no_other_changes() {
        let herd = Herd::new(HerdSettings { trouble: 0.0, ..HerdSettings::new(4, 1, 5) });
        let (whole, broken) =
            (Milking::of(&herd, None).unwrap(), Milking::of(&herd, Some(Plate::RR)).unwrap());
        let from = whole.tags[whole.tags.len() / 2].0;
        assert_eq!((whole.readings.len(), &whole.tags), (broken.readings.len(), &broken.tags));
        let load = |count: i32| f64::from(count - EMPTY);
        for ((at, was), (_, is)) in whole.readings.iter().zip(&broken.readings) {
            assert_eq!(was.0[..3], is.0[..3]);
            let part = if *at >= from { BROKEN } else { 1.0 };
            assert!((load(is[Plate::RR]) - part * load(was[Plate::RR])).abs() <= 1.0);
        }
        assert!(from > 0 && from < whole.ends());
    }
}
