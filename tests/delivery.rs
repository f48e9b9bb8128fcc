//! The real image, the real program and a real store: what the device keeps arrives once, whatever dies in between.

use host::store::{PassageFilter, Store};
use shared::{
    analysis::PassageSummary,
    wire::{DeviceMessage, FrameReader, HostMessage, ItemKey},
};
use std::{
    collections::BTreeMap,
    io::Write,
    net::TcpStream,
    path::{Path, PathBuf},
};
use tests::{
    emulator::{Emulator, Heard, listen},
    peer::{item_key, kept_on_the_host, message, messages},
    program::Running,
    recording::{Event, Recording, cut},
};

/// After so many items the host is killed, with the last of them on its way to the store.
const KILL_AFTER: usize = 7;

/// The line between the image and the program, which sees all that is said.
struct Line {
    store: PathBuf,
    program: Running,
    stream: Option<TcpStream>,
    from_device: FrameReader,
    from_host: FrameReader,
    /// What the device has delivered.
    items: BTreeMap<ItemKey, DeviceMessage>,
    boot: u32,
    acknowledged: u32,
    killed: bool,
    gone: u32,
}

fn start(store: &Path) -> Running {
    Running::start(store, &["listen", "--serve", "127.0.0.1:0", "--once"])
}

impl Line {
    fn new(store: &Path) -> Self {
        Self {
            store: store.to_owned(),
            program: start(store),
            stream: None,
            from_device: FrameReader::new(),
            from_host: FrameReader::new(),
            items: BTreeMap::new(),
            boot: 0,
            acknowledged: 0,
            killed: false,
            gone: 0,
        }
    }

    fn connect(&mut self, emulator: &Emulator) {
        let said = self.program.says("listening at");
        let address = said.trim().rsplit(' ').next().expect("an address");
        let stream = TcpStream::connect(address).expect("the program listens");
        listen(&stream, &emulator.teller(), Heard::Host, Heard::HostGone);
        self.stream = Some(stream);
        self.from_host = FrameReader::new();
    }

    fn pass(&mut self, emulator: &mut Emulator, heard: Heard) {
        match heard {
            Heard::Device(bytes) => {
                for (message, _) in messages::<DeviceMessage>(&mut self.from_device, &bytes) {
                    if let DeviceMessage::Hello(hello) = &message {
                        self.boot = hello.boot;
                    }
                    if let Some(key) = item_key(&message) {
                        self.items.insert(key, message);
                    }
                }
                // A program that has just been killed takes nothing.
                let _ = self.stream.as_mut().map(|stream| stream.write_all(&bytes));
                if !self.killed && self.items.len() >= KILL_AFTER {
                    self.killed = true;
                    self.program.child.kill().expect("it runs");
                    self.program = start(&self.store);
                    self.connect(emulator);
                }
            }
            Heard::Host(bytes) => {
                for (message, _) in messages::<HostMessage>(&mut self.from_host, &bytes) {
                    if let HostMessage::Acknowledge { first, last } = message {
                        self.is_committed(first, last);
                        self.acknowledged += 1;
                    }
                }
                emulator.say(&bytes);
            }
            Heard::HostGone => {
                self.gone += 1;
                assert!(self.gone <= u32::from(self.killed), "the program ended by itself");
            }
            Heard::Done | Heard::Ended => {}
        }
    }

    /// Another process must see what is acknowledged: it is committed, then.
    fn is_committed(&self, first: u32, last: u32) {
        let sql = "SELECT count(*) FROM device_items WHERE sequence BETWEEN ?1 AND ?2";
        let count: u32 = database(&self.store)
            .query_row(sql, [first, last], |row| row.get(0))
            .expect("the store can be read");
        assert_eq!(count, last - first + 1, "acknowledged and not stored: {first} to {last}");
    }
}

fn database(store: &Path) -> rusqlite::Connection {
    let read_only = rusqlite::OpenFlags::SQLITE_OPEN_READ_ONLY;
    rusqlite::Connection::open_with_flags(store, read_only).expect("a store")
}

/// Takes the numbers away, which a reset lets skip some.
fn nameless(mut message: DeviceMessage) -> DeviceMessage {
    match &mut message {
        DeviceMessage::Passage(passage) => (passage.key, passage.passage) = (ItemKey::default(), 0),
        DeviceMessage::TraceChunk(chunk) => (chunk.key, chunk.passage) = (ItemKey::default(), 0),
        DeviceMessage::TagRead(tag) => tag.key = ItemKey::default(),
        _ => {}
    }
    message
}

fn expected(events: &[Event], over: bool) -> Vec<DeviceMessage> {
    kept_on_the_host(events, over).values().map(|frame| nameless(message(frame).0)).collect()
}

fn summaries<'a>(messages: impl IntoIterator<Item = &'a DeviceMessage>) -> Vec<PassageSummary> {
    let of = |message: &DeviceMessage| match message {
        DeviceMessage::Passage(passage) => Some(passage.summary),
        _ => None,
    };
    messages.into_iter().filter_map(of).collect()
}

#[test]
fn all_passages_arrive_once_whatever_dies() {
    let folder = tempfile::tempdir().expect("temporary folder");
    let store = folder.path().join("store.sqlite");
    let recording = Recording::of(4, 2, 33);
    // The device is reset while the second cow of the second milking is on the plates.
    let (begin, end) = recording.spans[5];
    let (before, after) = cut(&recording.events, begin.midpoint(end));

    let mut emulator = Emulator::start(false);
    let mut line = Line::new(&store);
    line.connect(&emulator);
    emulator.play(&before, |emulator, heard| line.pass(emulator, heard));
    assert!(line.killed, "the host was not killed before the reset");
    emulator.reset();
    while line.boot < 2 {
        let heard = emulator.wait();
        line.pass(&mut emulator, heard);
    }
    emulator.play(&after, |emulator, heard| line.pass(emulator, heard));
    emulator.finish(true);
    loop {
        match emulator.wait() {
            Heard::Ended => break,
            heard => line.pass(&mut emulator, heard),
        }
    }
    assert!(line.acknowledged > 0);
    drop(emulator);
    if let Some(stream) = line.stream.take() {
        stream.shutdown(std::net::Shutdown::Both).expect("connected");
    }
    assert!(line.program.child.wait().expect("it ends").success());

    // What the device kept is what the host's build of it keeps; the cow on the plates at the reset is cut off.
    let of_boot = |boot: u32| line.items.iter().filter(move |(key, _)| key.boot == boot);
    for (boot, wanted) in [(1, expected(&before, false)), (2, expected(&after, true))] {
        let found: Vec<_> = of_boot(boot).map(|(_, message)| nameless(message.clone())).collect();
        assert_eq!(found.len(), wanted.len(), "items of boot {boot}");
        assert!(found == wanted, "items of boot {boot}");
    }

    // The store holds each once, and nothing else.
    let database = database(&store);
    let mut statement =
        database.prepare("SELECT boot, sequence FROM device_items").expect("the store's tables");
    let keys = statement
        .query_map([], |row| Ok(ItemKey { boot: row.get(0)?, sequence: row.get(1)? }))
        .expect("rows")
        .collect::<Result<std::collections::BTreeSet<_>, _>>()
        .expect("rows");
    assert!(keys.iter().eq(line.items.keys()), "items in the store");
    let mut wanted = summaries(line.items.values());
    assert!(wanted.len() >= recording.spans.len(), "{} passages", wanted.len());
    let stored = Store::open(&store).expect("a store").passages(&PassageFilter::default()).expect("passages");
    assert_eq!(stored.len(), wanted.len(), "passages in the store");
    for passage in stored {
        let at =
            wanted.iter().position(|summary| *summary == passage.summary).expect("one that was delivered");
        wanted.swap_remove(at);
    }
}
