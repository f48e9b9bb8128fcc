//! Readings of the plates as CSV.

use crate::milking::DAY;
use divan::{
    Bencher,
    counter::{BytesCount, ItemsCount},
};
use host::{
    import::{Input, readings::Importer},
    store::Store,
};

/// From text to passages with their traces in a store.
#[divan::bench(sample_count = 10)]
fn import(bencher: Bencher<'_, '_>) {
    let text = &DAY.readings[..];
    let rows = text.iter().filter(|&&byte| byte == b'\n').count() - 1;
    bencher
        .counter(BytesCount::of_slice(text))
        .counter(ItemsCount::new(rows))
        .with_inputs(|| Store::in_memory().expect("a store"))
        .bench_local_refs(|store| {
            let input = Input::of("readings.csv", Box::new(text), None);
            let outcome = Importer::new(store, "exit").file(input).expect("brought in");
            assert_eq!((outcome.rows, outcome.bad), (rows as u64, 0));
        });
}
