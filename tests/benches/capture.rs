//! What a device sent, from bytes to messages and into a store.

use crate::milking::DAY;
use divan::{Bencher, counter::BytesCount};
use host::{
    import::{Input, capture},
    store::Store,
};
use shared::wire::{Decoded, DeviceMessage, FrameReader, decode};

/// Hands on the payload of each frame of the day.
fn each(take: impl FnMut(&[u8])) {
    let mut reader = FrameReader::new();
    reader.payloads(&DAY.capture, take);
    assert_eq!(reader.counts().dropped, 0, "every frame is whole");
}

/// Frames taken out of the bytes, unstuffed and checked.
#[divan::bench(sample_count = 20)]
fn frames(bencher: Bencher<'_, '_>) {
    bencher.counter(BytesCount::of_slice(&DAY.capture)).bench_local(|| {
        let mut bytes = 0;
        each(|payload| bytes += payload.len());
        bytes
    });
}

/// The same, and the messages in them.
#[divan::bench(sample_count = 20)]
fn messages(bencher: Bencher<'_, '_>) {
    bencher.counter(BytesCount::of_slice(&DAY.capture)).bench_local(|| {
        let mut messages = 0;
        each(|payload| {
            messages += usize::from(matches!(decode::<DeviceMessage>(payload), Decoded::Message(_)));
        });
        messages
    });
}

/// Into a store, the raw readings analysed.
#[divan::bench(sample_count = 10)]
fn import(bencher: Bencher<'_, '_>) {
    bencher
        .counter(BytesCount::of_slice(&DAY.capture))
        .with_inputs(|| Store::in_memory().expect("a store"))
        .bench_local_refs(|store| {
            let input = Input::of("lane.capture", Box::new(&DAY.capture[..]), None);
            assert_eq!(capture::import(store, input).expect("brought in").bad, 0);
        });
}
