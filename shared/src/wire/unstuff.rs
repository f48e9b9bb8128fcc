//! Frames that lie whole in what was read, run by run: a host's captures are long. A device hears little at a time, and
//! takes it byte by byte.

/// The first frame of `bytes`, unstuffed into `room`: its length, and what follows its zero. `None` where it does not
/// end here, or its runs do not fit into it or into the room.
pub(super) fn whole<'input>(bytes: &'input [u8], room: &mut [u8]) -> Option<(usize, &'input [u8])> {
    // Each 254 bytes cost one, and the first another.
    let longest = room.len() + room.len() / 254 + 2;
    let end = bytes.iter().take(longest).position(|&byte| byte == 0).filter(|&end| end > 0)?;
    let (frame, rest) = (bytes.get(..end)?, bytes.get(end + 1..)?);
    let (mut at, mut length) = (0, 0);
    while let Some(&code) = frame.get(at) {
        let next = at + usize::from(code);
        let run = frame.get(at + 1..next)?;
        room.get_mut(length..length + run.len())?.copy_from_slice(run);
        length += run.len();
        at = next;
        if at < end && code < u8::MAX {
            *room.get_mut(length)? = 0;
            length += 1;
        }
    }
    Some((length, rest))
}

#[cfg(test)]
mod tests {
    use crate::limits::MAX_SEALED_FRAME_BYTES;
    use crate::wire::frame::{Feed, FrameCounts, FrameReader, frame_payload};
    use proptest::prelude::*;
    use std::vec::Vec;

    /// What comes of a stream that is given in pieces of a size.
    fn heard(stream: &[u8], piece: usize) -> (Vec<Option<Vec<u8>>>, FrameCounts) {
        let (mut reader, mut heard) = (FrameReader::new(), Vec::new());
        for mut rest in stream.chunks(piece) {
            while !rest.is_empty() {
                rest = match reader.push(rest) {
                    Feed::NeedMore => &[],
                    Feed::Dropped { rest } => {
                        heard.push(None);
                        rest
                    }
                    Feed::Frame { payload, rest } => {
                        heard.push(Some(payload.to_vec()));
                        rest
                    }
                };
            }
        }
        (heard, reader.counts())
    }

    proptest! {
        #[test]
        fn run_by_run_is_as_byte_by_byte(
            payloads in prop::collection::vec((prop::collection::vec(0u8..4, 0..300), any::<u8>()), 1..8),
            flips in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 0..3),
            zeros in 0usize..3,
            piece in 1usize..900,
        ) {
            let mut stream = Vec::new();
            for (payload, many) in payloads {
                // Some without zeros, so that runs of 254 occur.
                let lift = u8::from(many > 128);
                let payload: Vec<u8> = payload.into_iter().map(|byte| byte + lift).collect();
                let mut frame = [0; 2 * MAX_SEALED_FRAME_BYTES];
                if let Ok(length) = frame_payload(&payload, &mut frame) {
                    stream.extend_from_slice(&frame[..length]);
                }
                stream.resize(stream.len() + zeros, 0);
            }
            for (place, value) in flips {
                if !stream.is_empty() {
                    let place = place.index(stream.len());
                    stream[place] = value;
                }
            }
            let by_bytes = heard(&stream, 1);
            prop_assert_eq!(&heard(&stream, piece), &by_bytes);
            prop_assert_eq!(&heard(&stream, stream.len().max(1)), &by_bytes);
        }
    }
}
