//! The milking that `demo lane` plays, into a host and its store: at once, and in tenfold time as its page says.

use demo::herd::{Herd, Settings};
use demo::played::{Milking, play};
use host::link::{Line, StoreKeeper, connect};
use host::store::{PassageFilter, Store};
use std::io::{BufRead, BufReader};
use std::net::{TcpListener, TcpStream};
use std::process::{Command, Stdio};
use std::time::Duration;
use tests::program::path;

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

/// A program in which ten seconds go by in one.
fn tenfold(program: &str) -> Command {
    let mut command = Command::new("faketime");
    command.args(["-f", "+0 x10"]).arg(path(program)).stdout(Stdio::piped()).stderr(Stdio::null());
    command
}

#[test]
fn in_tenfold_time_device_and_host_agree_and_each_cow_takes_as_long_as_ever() {
    let folder = tempfile::tempdir().expect("a folder");
    let (herd, store) = (folder.path().join("herd"), folder.path().join("store"));
    let mut lane = tenfold("demo")
        .args(["lane", "--cows", "3", "--days", "1", "--listen", "127.0.0.1:0", "--out"])
        .arg(herd)
        .spawn()
        .expect("faketime is there: tests/setup");
    let mut said = BufReader::new(lane.stdout.take().expect("piped")).lines();
    let address = said
        .by_ref()
        .map(|line| line.expect("text"))
        .find_map(|line| line.split_once("listen --tcp ").map(|(_, rest)| rest.to_owned()))
        .and_then(|rest| rest.split_whitespace().next().map(str::to_owned))
        .expect("where it waits");
    let host = tenfold("fourplate")
        .arg("--store")
        .arg(&store)
        .args(["listen", "--once", "--tcp", &address])
        .status()
        .expect("starts");
    assert!(host.success() && lane.wait().expect("it ends").success());
    let passages =
        Store::open(&store).expect("a store").passages(&PassageFilter::default()).expect("passages");
    assert_eq!(passages.len(), 3);
    for passage in &passages {
        let seconds = passage.summary.duration.0 as f64 / 1_000.0;
        assert!(passage.animal.is_some() && (2.0..40.0).contains(&seconds), "{passage:?}");
    }
    let starts = || passages.iter().map(|passage| passage.summary.start.0);
    let between = starts().max().expect("three") - starts().min().expect("three");
    assert!(between >= 15_000, "one after the other, as they came: {between} ms");
}
