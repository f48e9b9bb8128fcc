//! Bytes on the link, as a host and a device read them: frames, messages, traces, a tag reader's lines.
#![no_main]

use libfuzzer_sys::fuzz_target;
use shared::identity::{ReaderLine, Telegram};
use shared::limits::MAX_FRAME_BYTES;
use shared::wire::{
    Decoded, DeviceId, DeviceMessage, Feed, FrameReader, HostMessage, LinkKey, Message, Opening, Sealed,
    TraceDecoder, decode, encode_frame,
};

/// What is understood can be said again, and is then understood the same.
fn said_again<M: Message + std::fmt::Debug>(payload: &[u8]) {
    let Decoded::Message(message) = decode::<M>(payload) else { return };
    let mut frame = [0; MAX_FRAME_BYTES];
    let Ok(length) = encode_frame(&message, &mut frame) else { return };
    let mut reader = FrameReader::new();
    let Feed::Frame { payload: again, .. } = reader.push(&frame[..length]) else { panic!("no frame of {message:?}") };
    let Decoded::Message(again) = decode::<M>(again) else { panic!("not understood: {message:?}") };
    // By their words: not-a-number is unlike itself.
    assert_eq!(format!("{message:?}"), format!("{again:?}"));
}

fuzz_target!(|bytes: &[u8]| {
    let mut reader = FrameReader::new();
    let mut rest = bytes;
    loop {
        match reader.push(rest) {
            Feed::NeedMore => break,
            Feed::Dropped { rest: after } => rest = after,
            Feed::Frame { payload, rest: after } => {
                said_again::<DeviceMessage>(payload);
                said_again::<HostMessage>(payload);
                // Nobody who has not the key seals anything that is opened.
                let opening = Opening { host: [1; 16], device: DeviceId(1), boot: 1, count: 0 };
                let mut end = Sealed::open::<HostMessage>(&LinkKey([1; 32]), &opening);
                assert_eq!(end.unseal(&mut payload.to_vec()), None);
                rest = after;
            }
        }
    }
    // Without the check of a frame, which random bytes seldom pass.
    said_again::<DeviceMessage>(bytes);
    said_again::<HostMessage>(bytes);
    let samples = TraceDecoder::new(bytes).take_while(Result::is_ok).count();
    assert!(samples <= bytes.len());
    let mut line = ReaderLine::default();
    for byte in bytes {
        if let Some(Ok(code)) = line.push(*byte) {
            assert!(code.digits().iter().all(u8::is_ascii_digit));
        }
    }
    if let Some(bits) = bytes.first_chunk::<16>() {
        let _ = Telegram::decode(u128::from_le_bytes(*bits));
    }
});
