//! Recorded readings, played in over the second UART in the frames that the README describes.

use embedded_io::{Read, ReadReady, Write};
use shared::wire::{Feed, FrameReader, TraceDecoder};

/// Who sends these frames.
const SENDER: u8 = b'C';
/// The answer to each frame, once all it asks for is done.
const DONE: u8 = 0x06;

/// What a frame asks for.
pub enum Played<'a> {
    /// Samples with their own times: the lane's clock follows them.
    Samples(TraceDecoder<'a>),
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

/// Reads frames and answers them.
pub struct Player<P> {
    port: P,
    reader: FrameReader,
    within: bool,
}

impl<P: Read + ReadReady + Write> Player<P> {
    /// A player on a port.
    pub const fn new(port: P) -> Self {
        Self { port, reader: FrameReader::new(), within: false }
    }

    /// The next frame, if it is whole. Takes one byte at a time: the port holds no more.
    pub fn poll(&mut self) -> Result<Option<Played<'_>>, P::Error> {
        while self.port.read_ready()? {
            let mut byte = [0];
            self.port.read(&mut byte)?;
            self.within = byte != [0];
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

    /// Whether a frame has begun and more of it is to come.
    pub const fn is_within_frame(&self) -> bool {
        self.within
    }

    /// Answers a frame.
    pub fn done(&mut self) -> Result<(), P::Error> {
        self.port.write(&[DONE]).map(|_| ())
    }
}

fn parse(payload: &[u8]) -> Option<Played<'_>> {
    match payload {
        [SENDER, 0, samples @ ..] => Some(Played::Samples(TraceDecoder::new(samples))),
        [SENDER, 1, line @ ..] => Some(Played::Tag(line)),
        [SENDER, 2, wait] => Some(Played::Finish { acknowledged: *wait != 0 }),
        [SENDER, 3] => Some(Played::Reset),
        [SENDER, 4] => Some(Played::Panic),
        _ => None,
    }
}
