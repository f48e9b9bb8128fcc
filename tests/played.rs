//! The milking that `demo lane` plays, into a host and its store.

use demo::herd::{Herd, Settings};
use demo::played::{Milking, play};
use host::link::{Line, StoreKeeper, connect};
use host::store::{PassageFilter, Store};
use std::net::{TcpListener, TcpStream};
use std::time::Duration;

#[test]
fn a_played_milking_reaches_the_store_with_its_cows_named() {
    let herd = Herd::new(Settings { trouble: 0.0, ..Settings::new(4, 1, 5) });
    let milking = Milking::of(&herd, None).expect("measured");
    let store = Store::in_memory().expect("a store");
    let source = store.begin_source("link", "played", jiff::Timestamp::UNIX_EPOCH).expect("stored");
    let listener = TcpListener::bind("127.0.0.1:0").expect("a port");
    let address = listener.local_addr().expect("an address");
    // The whole of it at the first look, and then on as we live: the lane's clock starts late, but runs as ours.
    let (ends, began) = (milking.ends(), std::time::Instant::now());
    let now = move || ends + u64::try_from(began.elapsed().as_millis()).expect("short");
    std::thread::scope(|scope| {
        let player = scope.spawn(|| play(&listener, &herd.settings, &milking, now, || ()));
        let port = connect::ready_stream(TcpStream::connect(address).expect("connected")).expect("ready");
        let until = connect::Until { idle: Some(Duration::from_secs(2)) };
        let keeper = StoreKeeper::new(&store, source);
        connect::run(port, Line::Cable, keeper, until, || false, None, |_, _, _| ()).expect("runs");
        player.join().expect("no panic").expect("played");
    });
    let passages = store.passages(&PassageFilter::default()).expect("passages");
    let mut named: Vec<_> = passages.iter().filter_map(|passage| passage.animal.clone()).collect();
    named.sort();
    named.dedup();
    assert_eq!((passages.len(), named.len()), (herd.order(0).len(), herd.order(0).len()));
}
