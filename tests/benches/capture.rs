//! What a device sent, from bytes to messages and into a store.

use crate::milking::DAY;
use divan::{Bencher, counter::BytesCount};
use host::{
    import::{Input, capture},
    store::Store,
};
use shared::wire::{Decoded, DeviceMessage, Feed, FrameReader, decode};

/// Frames taken out of the bytes, unstuffed and checked.
#[divan::bench(sample_count = 20)]
fn frames(bencher: Bencher<'_, '_>) {
    bencher.counter(BytesCount::of_slice(&DAY.capture)).bench_local(|| {
        let (mut reader, mut rest, mut bytes) = (FrameReader::new(), &DAY.capture[..], 0);
        while !rest.is_empty() {
            rest = match reader.push(rest) {
                Feed::NeedMore => &[],
                Feed::Dropped { .. } => panic!("every frame is whole"),
                Feed::Frame { payload, rest } => {
                    bytes += payload.len();
                    rest
                }
            };
        }
        bytes
    });
}

/// The same, and the messages in them.
#[divan::bench(sample_count = 20)]
fn messages(bencher: Bencher<'_, '_>) {
    bencher.counter(BytesCount::of_slice(&DAY.capture)).bench_local(|| {
        let (mut reader, mut rest, mut messages) = (FrameReader::new(), &DAY.capture[..], 0);
        while !rest.is_empty() {
            rest = match reader.push(rest) {
                Feed::NeedMore => &[],
                Feed::Dropped { .. } => panic!("every frame is whole"),
                Feed::Frame { payload, rest } => {
                    messages += usize::from(matches!(decode::<DeviceMessage>(payload), Decoded::Message(_)));
                    rest
                }
            };
        }
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
