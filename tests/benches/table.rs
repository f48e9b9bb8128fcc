//! The passage table.

use divan::{
    Bencher,
    counter::{BytesCount, ItemsCount},
};
use host::{
    import::{Input, passages::passages},
    store::Store,
};
use std::sync::LazyLock;

/// The table of 100 cows over 100 days, as the demo writes it.
static TABLE: LazyLock<Vec<u8>> = LazyLock::new(|| {
    let folder = tempfile::tempdir().expect("a folder");
    let herd = demo::herd::Herd::new(demo::herd::Settings::new(100, 100, 1));
    demo::passages::write_passages(herd, folder.path()).expect("written");
    std::fs::read(folder.path().join("passages.csv")).expect("just written")
});

/// Into a store in a file.
#[divan::bench(sample_count = 5)]
fn import(bencher: Bencher<'_, '_>) {
    let text = &TABLE[..];
    let rows = text.iter().filter(|&&byte| byte == b'\n').count() - 1;
    let folder = tempfile::tempdir().expect("a folder");
    let mut number = 0;
    bencher
        .counter(BytesCount::of_slice(text))
        .counter(ItemsCount::new(rows))
        .with_inputs(|| {
            number += 1;
            Store::open(&folder.path().join(format!("{number}.sqlite"))).expect("a store")
        })
        .bench_local_refs(|store| {
            let input = Input::of("passages.csv", Box::new(text), None);
            let outcome = passages(store, input, "exit").expect("brought in");
            assert_eq!((outcome.added, outcome.bad), (rows as u64, 0));
        });
}
