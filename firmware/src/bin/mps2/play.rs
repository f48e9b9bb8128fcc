//! Recorded readings, played in over the second UART in the frames that the README describes.

use embedded_io::{Read, ReadReady};
use firmware::load_cells::Sample;
use shared::{
    plate::PerPlate,
    units::{Counts, Milliseconds},
    wire::{Feed, FrameReader},
};

/// Who sends these frames.
const SENDER: u8 = b'C';

/// What a frame asks for.
pub enum Played<'a> {
    /// A sample with its own time: the lane's clock becomes that time.
    Timed(Milliseconds, Sample),
    /// A sample that is stamped on arrival.
    Now(Sample),
    /// Bytes of the tag reader.
    Tag(&'a [u8]),
    /// The readings are over: leave once everything is said, and acknowledged if so asked.
    Finish {
        /// Wait for the host's acknowledgements.
        acknowledged: bool,
    },
    /// Reset as after a power cut: the flash stays.
    Reset,
    /// Panic, to see what comes of it.
    Panic,
}

/// Reads frames.
pub struct Player<P> {
    port: P,
    reader: FrameReader,
}

impl<P: Read + ReadReady> Player<P> {
    /// A player on a port.
    pub const fn new(port: P) -> Self {
        Self { port, reader: FrameReader::new() }
    }

    /// The next frame, if it is whole. Takes one byte at a time: the port holds no more.
    pub fn poll(&mut self) -> Result<Option<Played<'_>>, P::Error> {
        while self.port.read_ready()? {
            let mut byte = [0];
            self.port.read(&mut byte)?;
            // Only a zero ends a frame; before it the reader has nothing to hand out.
            if byte == [0] {
                return Ok(match self.reader.push(&byte) {
                    Feed::Frame { payload, .. } => parse(payload),
                    _ => None,
                });
            }
            let _ = self.reader.push(&byte);
        }
        Ok(None)
    }
}

fn parse(payload: &[u8]) -> Option<Played<'_>> {
    match payload {
        [SENDER, 0, t0, t1, t2, t3, counts @ ..] => {
            let time = Milliseconds(u64::from(u32::from_le_bytes([*t0, *t1, *t2, *t3])));
            Some(Played::Timed(time, sample(counts)?))
        }
        [SENDER, 1, counts @ ..] => Some(Played::Now(sample(counts)?)),
        [SENDER, 2, line @ ..] => Some(Played::Tag(line)),
        [SENDER, 3, wait] => Some(Played::Finish { acknowledged: *wait != 0 }),
        [SENDER, 4] => Some(Played::Reset),
        [SENDER, 5] => Some(Played::Panic),
        _ => None,
    }
}

fn sample(bytes: &[u8]) -> Option<Sample> {
    let bytes: &[u8; 12] = bytes.try_into().ok()?;
    let mut counts = PerPlate([Counts(0); 4]);
    for (count, word) in counts.0.iter_mut().zip(bytes.chunks_exact(3)) {
        if let [low, middle, high] = *word {
            *count = Counts(i32::from_le_bytes([0, low, middle, high]) >> 8);
        }
    }
    Some(Sample { counts })
}
