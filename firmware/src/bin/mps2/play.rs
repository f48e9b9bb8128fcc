//! Recorded readings, tags and contacts, played in over the second UART in the frames that the README describes, as the
//! converter, tag reader, clock and gate of the lane's loop.

use super::cost::{say, say_number};
use core::{cell::Cell, cell::RefCell, convert::Infallible};
use embedded_io::{ErrorType, Read, ReadReady, Write};
use firmware::{
    gate::pins::GatePort,
    lane::Clock,
    load_cells::{self, LoadCells},
};
use heapless::Deque;
use shared::{
    limits::{MAX_FRAME_BYTES, MAX_TRACE_DATA_BYTES},
    plate::PerPlate,
    units::{Counts, Milliseconds},
    wire::{Feed, FrameReader, Sample, TraceDecoder},
};

/// Who sends these frames.
const SENDER: u8 = b'C';
/// The answer to each frame, once all it asks for is done.
const DONE: u8 = 0x06;
/// The shortest sample is a byte of time and one of each plate.
const SAMPLES: usize = MAX_TRACE_DATA_BYTES / 5;

/// What is asked of the board itself.
#[derive(Clone, Copy)]
pub enum Asked {
    /// The readings are over: leave once everything is said, and acknowledged if so asked.
    Finish {
        /// Wait for the host's acknowledgements.
        acknowledged: bool,
    },
    /// Reset as after a power cut: the flash stays.
    Reset,
    /// Panic, to see what comes of it.
    Panic,
    /// Count what things cost anew.
    Count,
}

/// The processor's counter when a sample was handed out, and when the loop was done with it.
#[derive(Clone, Copy)]
pub struct Reading {
    /// When it was handed out.
    pub before: u32,
    /// When the loop turned to the tag reader.
    pub after: u32,
    /// When it turned to the gate, whoever has left judged.
    pub judged: u32,
}

struct Player<P> {
    port: P,
    reader: FrameReader,
    within: bool,
    /// A frame that is not answered yet.
    open: bool,
    samples: Deque<Sample, SAMPLES>,
    tag: Deque<u8, MAX_FRAME_BYTES>,
}

/// The second UART and what has come over it.
pub struct Played<P> {
    player: RefCell<Player<P>>,
    clock: Cell<Option<Milliseconds>>,
    asked: Cell<Option<Asked>>,
    stop: Cell<bool>,
    high: Cell<Option<bool>>,
    handed_out: Cell<Option<u32>>,
    /// What the last sample cost, once.
    pub reading: Cell<Option<Reading>>,
    ticks: fn() -> u32,
    milliseconds: fn() -> Milliseconds,
}

impl<P: Read + ReadReady + Write> Played<P> {
    /// On a port, with the processor's counter and its clock.
    pub const fn new(port: P, ticks: fn() -> u32, milliseconds: fn() -> Milliseconds) -> Self {
        Self {
            player: RefCell::new(Player {
                port,
                reader: FrameReader::new(),
                within: false,
                open: false,
                samples: Deque::new(),
                tag: Deque::new(),
            }),
            clock: Cell::new(None),
            asked: Cell::new(None),
            stop: Cell::new(false),
            high: Cell::new(None),
            handed_out: Cell::new(None),
            reading: Cell::new(None),
            ticks,
            milliseconds,
        }
    }

    /// What was asked of the board, once.
    pub fn take_asked(&self) -> Option<Asked> {
        self.asked.take()
    }

    /// Whether something has begun that is not done yet.
    pub fn is_busy(&self) -> bool {
        let player = self.player.borrow();
        player.within || player.open
    }

    /// The next sample. A frame is answered at the turn after the one that did the last of it.
    fn next(&self) -> Option<Sample> {
        let mut player = self.player.borrow_mut();
        if let Some(sample) = player.samples.pop_front() {
            self.clock.set(Some(sample.time));
            return Some(sample);
        }
        if player.open && player.tag.is_empty() {
            player.open = false;
            let _ = player.port.write(&[DONE]);
        }
        if !player.open {
            player.receive(self);
        }
        None
    }
}

impl<P: Read + ReadReady + Write> Player<P> {
    /// Takes what has come, one byte at a time: the port holds no more.
    fn receive(&mut self, played: &Played<P>) {
        while let Ok(true) = self.port.read_ready() {
            let mut byte = [0];
            let _ = self.port.read(&mut byte);
            self.within = byte != [0];
            // Only a zero ends a frame; before it the reader has nothing to hand out.
            if let Feed::Frame { payload, .. } = self.reader.push(&byte) {
                self.open = true;
                match payload {
                    [SENDER, 0, samples @ ..] => {
                        for sample in TraceDecoder::new(samples).flatten() {
                            let _ = self.samples.push_back(sample);
                        }
                    }
                    [SENDER, 1, line @ ..] => line.iter().for_each(|byte| {
                        let _ = self.tag.push_back(*byte);
                    }),
                    [SENDER, 2, wait] => played.asked.set(Some(Asked::Finish { acknowledged: *wait != 0 })),
                    [SENDER, 3] => played.asked.set(Some(Asked::Reset)),
                    [SENDER, 4] => played.asked.set(Some(Asked::Panic)),
                    [SENDER, 5, open] => played.stop.set(*open != 0),
                    [SENDER, 6] => played.asked.set(Some(Asked::Count)),
                    _ => self.open = false,
                }
                return;
            }
        }
    }
}

impl<P: Read + ReadReady + Write> LoadCells for &Played<P> {
    type Error = Infallible;

    fn poll(&mut self) -> Result<Option<load_cells::Sample>, Infallible> {
        let sample = self.next().map(|Sample { values, .. }| {
            let [lf, rf, lr, rr] = values.0;
            load_cells::Sample { counts: PerPlate([Counts(lf), Counts(rf), Counts(lr), Counts(rr)]) }
        });
        self.handed_out.set(sample.map(|_| (self.ticks)()));
        Ok(sample)
    }

    fn restart(&mut self) -> Result<(), Infallible> {
        Ok(())
    }
}

impl<P> Clock for &Played<P> {
    fn now(&mut self) -> Milliseconds {
        (self.milliseconds)()
    }

    fn stamp(&mut self) -> Milliseconds {
        self.clock.get().unwrap_or_else(self.milliseconds)
    }
}

impl<P> ErrorType for &Played<P> {
    type Error = Infallible;
}

impl<P> ReadReady for &Played<P> {
    /// The loop looks here as soon as it is done with a sample.
    fn read_ready(&mut self) -> Result<bool, Infallible> {
        let after = (self.ticks)();
        self.reading.set(self.handed_out.take().map(|before| Reading { before, after, judged: after }));
        Ok(!self.player.borrow().tag.is_empty())
    }
}

impl<P> Read for &Played<P> {
    fn read(&mut self, bytes: &mut [u8]) -> Result<usize, Infallible> {
        let tag = &mut self.player.borrow_mut().tag;
        let mut count = 0;
        for byte in bytes {
            let Some(got) = tag.pop_front() else { break };
            *byte = got;
            count += 1;
        }
        Ok(count)
    }
}

impl<P> GatePort for &Played<P> {
    /// Told to whoever runs the emulator, at each change: `high` or `low`, and when.
    fn put(&mut self, high: bool) {
        if self.high.replace(Some(high)) != Some(high) {
            say(if high { "high " } else { "low " });
            say_number(u32::try_from(self.stamp().0).unwrap_or(u32::MAX));
            say("\n");
        }
    }

    fn stopped(&mut self) -> bool {
        let judged = (self.ticks)();
        self.reading.set(self.reading.take().map(|reading| Reading { judged, ..reading }));
        self.stop.get()
    }
}
