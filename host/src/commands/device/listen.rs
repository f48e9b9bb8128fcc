//! Listens to lane devices: stores what they send and acknowledges it once it is safe.

use crate::commands::cli::Common;
use crate::commands::device::orders::{OrdersMade, told};
use crate::commands::device::port::PortArguments;
use crate::commands::exit_code::ExitCode;
use crate::commands::store_path;
use crate::link::at_desk::AtDesk;
use crate::link::connect::{
    Backoff, READ_WAIT, SessionEnd, Until, line_to, line_to_name, open_serial, open_tcp, ready_stream,
};
use crate::link::orders::{OrdersSpoken, Wanted};
use crate::link::{Keeper, Kept, Line, Notice, Now, Session, StoreKeeper, connect};
use crate::report::words::Words;
use crate::report::{live, notes, out, text};
use crate::store::{Store, StoreError};
use anyhow::{Context, bail};
use jiff::Timestamp;
use shared::wire::{DeviceId, DeviceMessage};
use std::{
    collections::HashMap,
    fs::File,
    io::{ErrorKind, Write},
    net::TcpListener,
    path::{Path, PathBuf},
    sync::{
        Arc, Mutex,
        atomic::{AtomicBool, Ordering},
    },
    time::Duration,
};

/// Where the device is, and for how long to listen.
#[derive(Debug, clap::Args)]
pub struct Listen {
    #[command(flatten)]
    port: PortArguments,
    /// End when the first connection ends
    #[arg(long)]
    once: bool,
    /// End when a device has delivered nothing new for so many seconds
    #[arg(long, value_name = "SECONDS")]
    until_idle: Option<f64>,
    /// Also append the bytes received to FILE, which `import capture` can read (one device only)
    #[arg(long, value_name = "FILE", conflicts_with = "serve")]
    record: Option<PathBuf>,
    /// Print each cow as she leaves, with how she stands against her own so far today
    #[arg(long)]
    show: bool,
}

/// Listens until interrupted, or as the options say.
///
/// # Errors
/// When the store or the port cannot be used.
pub fn run(arguments: &Listen, common: &Common) -> anyhow::Result<ExitCode> {
    let store = &store_path(common)?;
    let stop = Arc::new(AtomicBool::new(false));
    let stopped = Arc::clone(&stop);
    ctrlc::set_handler(move || stopped.store(true, Ordering::Relaxed)).context("cannot watch for ctrl-c")?;
    let idle = match arguments.until_idle {
        Some(seconds) if seconds.is_finite() && seconds >= 0.0 => Some(Duration::from_secs_f64(seconds)),
        Some(seconds) => bail!("--until-idle {seconds}: not a number of seconds"),
        None => None,
    };
    let listener = Listener {
        store,
        until: Until { idle },
        once: arguments.once,
        stop: &stop,
        show: if arguments.show { Some(common.words(&Store::open(store)?)?) } else { None },
        sessions: Mutex::default(),
        orders: Arc::default(),
    };
    // Nobody waits for it at the end: scoring a long store anew may take a while, and what is half done is nothing.
    let (orders, path) = (Arc::clone(&listener.orders), store.clone());
    std::thread::spawn(move || orders.make(&path, say));
    listener.listen(arguments)?;
    Ok(ExitCode::Done)
}

/// Connections at a time; our choice: far more lanes than a farm has, and far fewer files than a process may open.
const MOST_SESSIONS: usize = 64;
/// No more files for this process, or for the machine (`EMFILE`, `ENFILE`).
const OUT_OF_FILES: [Option<i32>; 2] = [Some(24), Some(23)];
/// How long to wait for files; our choice.
const OUT_OF_FILES_WAIT: std::time::Duration = std::time::Duration::from_secs(1);

struct Listener<'a> {
    store: &'a Path,
    until: Until,
    once: bool,
    stop: &'a AtomicBool,
    /// The words for cows as they leave, where these are wanted.
    show: Option<Words>,
    /// What ends the session of each device: its next one does.
    sessions: Mutex<HashMap<DeviceId, Arc<AtomicBool>>>,
    /// What paired devices are to know.
    orders: Arc<OrdersMade>,
}

impl Listener<'_> {
    fn stopping(&self) -> bool {
        self.stop.load(Ordering::Relaxed)
    }

    /// On the port of the arguments, until it is over.
    fn listen(&self, arguments: &Listen) -> anyhow::Result<()> {
        let record = arguments.record.as_deref();
        if let Some(address) = &arguments.port.serve {
            return self.serve(address);
        }
        if let Some(address) = &arguments.port.tcp {
            return self.again_and_again(address, line_to_name(address), record, || open_tcp(address));
        }
        let Some(path) = &arguments.port.serial else { return Ok(()) };
        let name = path.display().to_string();
        self.again_and_again(&name, Line::Cable, record, || open_serial(path, arguments.port.baud))
    }

    /// One device after another on the same port, with pauses while it does not answer.
    fn again_and_again<P: std::io::Read + Write>(
        &self,
        name: &str,
        line: Line,
        record: Option<&Path>,
        open: impl Fn() -> std::io::Result<P>,
    ) -> anyhow::Result<()> {
        let store = Store::open(self.store)?;
        let mut record = record
            .map(|path| {
                File::options()
                    .create(true)
                    .append(true)
                    .open(path)
                    .with_context(|| format!("cannot write {}", path.display()))
            })
            .transpose()?;
        let mut backoff = Backoff::default();
        let mut told = false;
        while !self.stopping() {
            match open() {
                Ok(port) => {
                    told = false;
                    let (ended, met) = self.session(
                        &store,
                        name,
                        (port, line),
                        record.as_mut().map(|file| file as &mut dyn Write),
                    )?;
                    if met {
                        backoff.reset();
                    }
                    if self.once || matches!(ended, SessionEnd::Idle | SessionEnd::Stopped) {
                        return Ok(());
                    }
                }
                Err(error) => {
                    if !told {
                        say(&format!("{name}: {error}; trying again"));
                    }
                    told = true;
                }
            }
            backoff.wait(self.stop);
        }
        Ok(())
    }

    /// Whoever connects, each in a thread with its own connection to the store.
    fn serve(&self, address: &str) -> anyhow::Result<()> {
        let listener = TcpListener::bind(address).with_context(|| format!("cannot listen at {address}"))?;
        listener.set_nonblocking(true)?;
        say(&format!("listening at {}", listener.local_addr()?));
        // Opened once before anybody waits for an acknowledgement: a store that cannot be used is told at once.
        Store::open(self.store)?.can_be_written()?;
        std::thread::scope(|scope| {
            let mut sessions: Vec<std::thread::ScopedJoinHandle<'_, anyhow::Result<()>>> = Vec::new();
            let mut result = Ok(());
            while result.is_ok() && !self.stopping() {
                let over: Vec<_> = sessions.extract_if(.., |session| session.is_finished()).collect();
                if !over.is_empty() && (self.once || self.until.idle.is_some()) {
                    self.stop.store(true, Ordering::Relaxed);
                }
                for session in over {
                    // An error ends its own session: what was not acknowledged comes again.
                    if let Err(error) = joined(session) {
                        say(&format!("{error:#}"));
                    }
                }
                match listener.accept() {
                    Ok((stream, peer)) if sessions.len() >= MOST_SESSIONS => {
                        say(&format!("{peer}: {MOST_SESSIONS} connections already; try again later"));
                        drop(stream);
                    }
                    Ok((stream, peer)) => sessions.push(scope.spawn(move || {
                        let store = Store::open(self.store)?;
                        let port = (ready_stream(stream)?, line_to(peer.ip()));
                        self.session(&store, &peer.to_string(), port, None).map(|_| ())
                    })),
                    Err(error) if error.kind() == ErrorKind::WouldBlock => std::thread::sleep(READ_WAIT),
                    Err(error) if OUT_OF_FILES.contains(&error.raw_os_error()) => {
                        std::thread::sleep(OUT_OF_FILES_WAIT);
                    }
                    Err(error) => result = Err(error.into()),
                }
            }
            // Whatever ended the loop ends the other sessions too.
            self.stop.store(true, Ordering::Relaxed);
            sessions.into_iter().fold(result, |result, session| result.and(joined(session)))
        })
    }

    /// A device speaks on one connection: the one before it may hang half open for hours, and ends.
    fn takes_the_place(&self, device: DeviceId, over: &Arc<AtomicBool>) {
        let Ok(mut sessions) = self.sessions.lock() else { return };
        if let Some(before) =
            sessions.insert(device, Arc::clone(over)).filter(|before| !Arc::ptr_eq(before, over))
        {
            before.store(true, Ordering::Relaxed);
        }
    }

    /// Says to a paired device what it is to know. What the store does not give now is said later.
    fn order<K: Keeper>(&self, orders: &mut OrdersSpoken, store: &Store, session: &mut Session<K>, now: Now) {
        if let Some(wanted) = self.wanted(session) {
            let _ = orders.turn(session, store, &wanted, now);
        }
    }

    /// Whether a message was an answer to that.
    fn ordered<K: Keeper>(
        &self,
        orders: &mut OrdersSpoken,
        store: &Store,
        session: &Session<K>,
        message: &DeviceMessage,
        now: Now,
    ) -> bool {
        let wanted = self.wanted(session).unwrap_or_default();
        orders.hear(session, store, message, &wanted, now).unwrap_or(true)
    }

    fn wanted<K: Keeper>(&self, session: &Session<K>) -> Option<Arc<Wanted>> {
        let hello = session.device().filter(|_| session.is_sealed())?;
        Some(self.orders.of(&crate::store::lane_name(&hello.name, hello.device)))
    }

    /// One connection, from hello to its end. Says how it ended, and whether a device said hello.
    fn session(
        &self,
        store: &Store,
        name: &str,
        (port, line): (impl std::io::Read + Write, Line),
        record: Option<&mut dyn Write>,
    ) -> anyhow::Result<(SessionEnd, bool)> {
        let source = store.begin_source("link", name, Timestamp::now())?;
        let keeper = StoreKeeper::new(store, source);
        let mut total = Kept::default();
        let mut met = false;
        let mut shown = self.show.as_ref().map(|words| Shown::new(store, words)).transpose()?;
        let over = Arc::new(AtomicBool::new(false));
        let stop = || self.stopping() || over.load(Ordering::Relaxed);
        let mut desk = AtDesk::beside(self.store.to_owned());
        let mut orders = OrdersSpoken::default();
        let ended = connect::run(port, line, keeper, self.until, stop, record, |session, notices, now| {
            for notice in notices {
                match &notice {
                    Notice::Hello(hello) => {
                        met = true;
                        self.takes_the_place(hello.device, &over);
                        desk.met();
                        orders.met();
                    }
                    Notice::Kept(kept) => {
                        total.add(kept);
                        // What cannot be shown now is on the list all the same.
                        let _ = shown.as_mut().map(|shown| shown.show(store));
                    }
                    Notice::Answer(message) if desk.hear(session, message, now) => continue,
                    Notice::Answer(message) if self.ordered(&mut orders, store, session, message, now) => {
                        continue;
                    }
                    Notice::Answer(message) if answered(shown.as_ref(), store, message) => continue,
                    _ => {}
                }
                tell(name, session, &notice);
            }
            desk.turn(session, now);
            self.order(&mut orders, store, session, now);
            for news in orders.take_told() {
                say(&format!("{name}: {}", told(&news)));
            }
        });
        store.finish_source(source, &total.as_source(), Timestamp::now())?;
        match ended {
            Ok(ended) => {
                let why = match &ended {
                    SessionEnd::Stopped => "stopped".to_owned(),
                    SessionEnd::Idle => "nothing more to deliver".to_owned(),
                    SessionEnd::Closed => "the other side closed".to_owned(),
                    SessionEnd::Silent => "the device fell silent".to_owned(),
                    SessionEnd::Port(error) => error.to_string(),
                };
                say(&format!(
                    "{name}: {why}; {} passages, {} tag reads, {} trace pieces, {} known already",
                    total.passages, total.tags, total.chunks, total.already
                ));
                Ok((ended, met))
            }
            // A locked store is another writer's: what was not acknowledged comes again.
            Err(crate::link::SessionError::Keeper(StoreError::Locked)) => {
                say(&format!("{name}: the store is locked by another fourplate; trying again"));
                Ok((SessionEnd::Closed, met))
            }
            Err(crate::link::SessionError::Keeper(error @ StoreError::OtherItem { .. })) => {
                say(&format!("{name}: {error}"));
                Ok((SessionEnd::Closed, met))
            }
            Err(error) => Err(error.into()),
        }
    }
}

/// What was printed of the cows as they leave.
struct Shown<'w> {
    words: &'w Words,
    /// The latest passages that were printed, and whether with a name.
    printed: HashMap<i64, bool>,
}

/// Passages looked back at. Our choice: more than one commit brings.
const SHOWN: usize = 40;

impl<'w> Shown<'w> {
    /// What is there already is not printed.
    fn new(store: &Store, words: &'w Words) -> anyhow::Result<Self> {
        let there = live::latest(store, words, SHOWN)?;
        Ok(Self { words, printed: there.into_iter().map(|one| (one.passage, true)).collect() })
    }

    /// Prints what is new, and again what has got its name since.
    fn show(&mut self, store: &Store) -> anyhow::Result<()> {
        for one in live::latest(store, self.words, SHOWN)?.iter().rev() {
            let named = one.id.is_some();
            if self.printed.get(&one.passage).is_none_or(|with_name| named && !with_name) {
                writeln!(out(), "{}", text::wrap(&self.words.say("live-title", one), 2))?;
                self.printed.insert(one.passage, named);
            }
        }
        Ok(())
    }
}

/// Prints what a device said of a cow as she left, where that is wanted; whether it was such a message.
fn answered(shown: Option<&Shown<'_>>, store: &Store, message: &DeviceMessage) -> bool {
    let DeviceMessage::Answer(answer) = message else { return false };
    if let Some(shown) = shown
        && let Ok(said) = live::at_the_lane(store, shown.words, answer)
    {
        let _ = writeln!(out(), "{}", text::wrap(&said, 2));
    }
    true
}

fn tell<K: Keeper>(name: &str, session: &Session<K>, notice: &Notice) {
    match notice {
        Notice::Hello(hello) => {
            let lane = crate::store::lane_name(&hello.name, hello.device);
            let [major, minor, patch] = hello.firmware;
            say(&format!(
                "{name}: lane {lane}, boot {}, firmware {major}.{minor}.{patch}, {} Hz, {} items waiting",
                hello.boot, hello.rate_hz, hello.waiting
            ));
        }
        Notice::Schema { schema, oldest } => say(&format!(
            "{name}: the device speaks schema {schema} (readable from {oldest} on), this fourplate {}: nothing is \
             stored, the device keeps everything; update {}",
            shared::wire::SCHEMA,
            if *oldest > shared::wire::SCHEMA { "fourplate" } else { "the device" }
        )),
        Notice::NotPaired(device) => say(&format!(
            "{name}: device {:016x} is not paired with this store; over a network it is not believed, and keeps \
             everything: `fourplate lane pair` by its cable",
            device.0
        )),
        Notice::Locked(device) => say(&format!(
            "{name}: device {:016x} is paired with another store; it keeps everything until it is back there",
            device.0
        )),
        Notice::Skipped { kind } => {
            say(&format!("{name}: a message of a newer device (kind {kind}) was skipped"));
        }
        Notice::Malformed => say(&format!("{name}: a message that makes no sense was skipped")),
        Notice::Answer(message) => say(&format!("{name}: {message:?}")),
        Notice::Health(health) => {
            let dropped = session.counts().dropped;
            if dropped > 0 || health.passages_dropped > 0 {
                say(&format!(
                    "{name}: {dropped} broken frames here, {} there, {} passages lost",
                    health.dropped_frames, health.passages_dropped
                ));
            }
        }
        Notice::Kept(_) | Notice::Clock(_) => {}
    }
}

fn joined(session: std::thread::ScopedJoinHandle<'_, anyhow::Result<()>>) -> anyhow::Result<()> {
    session.join().unwrap_or_else(|_| Err(anyhow::anyhow!("a session broke down")))
}

/// Notes go to standard error; a closed one is nobody's loss.
fn say(text: &str) {
    let _ = writeln!(notes(), "{text}");
}
