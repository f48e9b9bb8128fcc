//! Ports, and what runs a session on one: reads, ticks, writes, and tries again.

use crate::link::keeper::Keeper;
use crate::link::session::{Line, Notice, Now, Session, SessionError};
use std::{
    io::{self, ErrorKind, Read, Write},
    net::{IpAddr, TcpStream, ToSocketAddrs},
    path::Path,
    sync::atomic::{AtomicBool, Ordering},
    time::{Duration, Instant, SystemTime, UNIX_EPOCH},
};

/// A read waits at most this long, so that what is due gets done; our choice.
pub const READ_WAIT: Duration = Duration::from_millis(100);
/// How long to wait for a connection to be made; our choice.
const CONNECT_WAIT: Duration = Duration::from_secs(10);
/// A write that takes longer means that nobody reads; our choice.
const WRITE_WAIT: Duration = Duration::from_secs(10);
/// First pause before connecting again; our choice.
const FIRST_PAUSE: Duration = Duration::from_millis(500);
/// Longest pause before connecting again; our choice.
const LONGEST_PAUSE: Duration = Duration::from_secs(30);

/// A line to a device.
pub trait Port: Read + Write {}
impl<T: Read + Write> Port for T {}

/// The host's clocks.
#[derive(Clone, Copy, Debug)]
pub struct HostClock {
    started: Instant,
}

impl Default for HostClock {
    fn default() -> Self {
        Self { started: Instant::now() }
    }
}

impl HostClock {
    /// Both clocks now.
    #[must_use]
    pub fn now(&self) -> Now {
        let utc = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
        Now {
            utc_ms: i64::try_from(utc.as_millis()).unwrap_or(i64::MAX),
            monotonic_ms: u64::try_from(self.started.elapsed().as_millis()).unwrap_or(u64::MAX),
        }
    }
}

/// Readies a TCP connection.
///
/// # Errors
/// Where the system refuses.
pub fn ready_stream(stream: TcpStream) -> io::Result<TcpStream> {
    stream.set_nonblocking(false)?;
    stream.set_nodelay(true)?;
    stream.set_read_timeout(Some(READ_WAIT))?;
    stream.set_write_timeout(Some(WRITE_WAIT))?;
    Ok(stream)
}

/// Connects to a device that waits at HOST:PORT.
///
/// # Errors
/// Where nobody answers.
pub fn open_tcp(address: &str) -> io::Result<TcpStream> {
    let mut last = io::Error::new(ErrorKind::NotFound, "the name has no address");
    for address in address.to_socket_addrs()? {
        match TcpStream::connect_timeout(&address, CONNECT_WAIT) {
            Ok(stream) => return ready_stream(stream),
            Err(error) => last = error,
        }
    }
    Err(last)
}

/// What lies between us and an address: this machine itself, or a network.
#[must_use]
pub fn line_to(address: IpAddr) -> Line {
    if address.to_canonical().is_loopback() { Line::Cable } else { Line::Network }
}

/// What lies between us and HOST:PORT; a network where any of its addresses is one.
#[must_use]
pub fn line_to_name(address: &str) -> Line {
    let mut found = address.to_socket_addrs().into_iter().flatten().peekable();
    let own = found.peek().is_some() && found.all(|address| line_to(address.ip()) == Line::Cable);
    if own { Line::Cable } else { Line::Network }
}

/// Opens a serial line.
///
/// # Errors
/// Where it is not there or in use.
pub fn open_serial(path: &Path, baud: u32) -> io::Result<Box<dyn serialport::SerialPort>> {
    serialport::new(path.to_string_lossy(), baud).timeout(READ_WAIT).open().map_err(io::Error::from)
}

/// When to end a session that works.
#[derive(Clone, Copy, Debug, Default)]
pub struct Until {
    /// End once the device has nothing more to deliver and this long nothing new came.
    pub idle: Option<Duration>,
}

/// How a session ended.
#[derive(Debug)]
pub enum SessionEnd {
    /// It was asked to stop.
    Stopped,
    /// Nothing new came any more.
    Idle,
    /// The other side closed.
    Closed,
    /// The port failed.
    Port(io::Error),
    /// The device fell silent.
    Silent,
}

/// Runs a session until it ends, then settles what waits. `turn` is called a few times a second, with what happened since.
///
/// # Errors
/// Where what was received could not be kept.
pub fn run<K: Keeper>(
    mut port: impl Port,
    line: Line,
    keeper: K,
    until: Until,
    stop: impl Fn() -> bool,
    mut record: Option<&mut dyn Write>,
    mut turn: impl FnMut(&mut Session<K>, Vec<Notice>, Now),
) -> Result<SessionEnd, SessionError<K::Error>> {
    let clock = HostClock::default();
    let mut session = Session::new(keeper, line, clock.now());
    if record.is_some() {
        session.keep_opened();
    }
    let mut news = Instant::now();
    let mut bytes = [0; 4096];
    let ended = loop {
        if stop() {
            break SessionEnd::Stopped;
        }
        let now = clock.now();
        match session.tick(now) {
            Err(SessionError::Silent) => break SessionEnd::Silent,
            other => other?,
        }
        if let Err(error) = send(&mut port, &mut session) {
            break SessionEnd::Port(error);
        }
        match port.read(&mut bytes) {
            Ok(0) => break SessionEnd::Closed,
            Ok(length) => {
                session.receive(&bytes[..length], clock.now())?;
                let opened = session.take_opened();
                if let Some(record) = record.as_deref_mut() {
                    // What was sealed is kept as it was before: a capture needs no key.
                    let heard = if session.is_sealed() { &opened[..] } else { &bytes[..length] };
                    if let Err(error) = record.write_all(heard) {
                        break SessionEnd::Port(error);
                    }
                }
            }
            Err(error) if waits(&error) => {}
            Err(error) => break SessionEnd::Port(error),
        }
        let notices = session.take_notices();
        let is_news = |notice: &Notice| {
            matches!(notice, Notice::Hello(_)) || matches!(notice, Notice::Kept(kept) if kept.new_items() > 0)
        };
        if notices.iter().any(is_news) {
            news = Instant::now();
        }
        turn(&mut session, notices, clock.now());
        if session.device().is_some() && until.idle.is_some_and(|idle| news.elapsed() >= idle) {
            break SessionEnd::Idle;
        }
    };
    // What was committed last is acknowledged even when the session is asked to stop.
    let _ = send(&mut port, &mut session);
    if let Some(device) = session.device().map(|hello| hello.device) {
        session.keeper().settle(device).map_err(SessionError::Keeper)?;
    }
    Ok(ended)
}

pub(super) fn send<K: Keeper>(port: &mut impl Port, session: &mut Session<K>) -> io::Result<()> {
    let out = session.take_output();
    if out.is_empty() {
        return Ok(());
    }
    port.write_all(&out)?;
    port.flush()
}

/// Whether a read only found nothing yet.
pub(super) fn waits(error: &io::Error) -> bool {
    matches!(error.kind(), ErrorKind::WouldBlock | ErrorKind::TimedOut | ErrorKind::Interrupted)
}

/// Pauses between tries: each twice as long as the one before, up to a bound.
#[derive(Debug)]
pub struct Backoff {
    next: Duration,
}

impl Default for Backoff {
    fn default() -> Self {
        Self { next: FIRST_PAUSE }
    }
}

impl Backoff {
    /// It worked: begin with short pauses again.
    pub const fn reset(&mut self) {
        self.next = FIRST_PAUSE;
    }

    /// The next pause.
    pub fn pause(&mut self) -> Duration {
        let pause = self.next;
        self.next = (pause * 2).min(LONGEST_PAUSE);
        pause
    }

    /// Waits for the next pause, or until asked to stop.
    pub fn wait(&mut self, stop: &AtomicBool) {
        let end = Instant::now() + self.pause();
        while !stop.load(Ordering::Relaxed) && Instant::now() < end {
            std::thread::sleep(READ_WAIT.min(end.saturating_duration_since(Instant::now())));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::link::StoreKeeper;
    use crate::store::Store;
    use std::cell::Cell;

    /// A port that only fails: in the order of the kinds.
    struct Failing<'c>(&'c [ErrorKind], &'c Cell<usize>);

    impl Read for Failing<'_> {
        fn read(&mut self, _: &mut [u8]) -> io::Result<usize> {
            let kind = self.0[self.1.get().min(self.0.len() - 1)];
            self.1.set(self.1.get() + 1);
            Err(kind.into())
        }
    }

    impl Write for Failing<'_> {
        fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
            Ok(bytes.len())
        }
        fn flush(&mut self) -> io::Result<()> {
            Ok(())
        }
    }

    #[test]
    fn a_read_that_found_nothing_yet_is_tried_again_and_a_broken_port_is_the_end() {
        let store = Store::in_memory().expect("memory");
        let source = store.begin_source("link", "test", jiff::Timestamp::UNIX_EPOCH).expect("stored");
        let reads = Cell::new(0);
        let kinds =
            [ErrorKind::WouldBlock, ErrorKind::TimedOut, ErrorKind::Interrupted, ErrorKind::ConnectionReset];
        let ended = run(
            Failing(&kinds, &reads),
            Line::Cable,
            StoreKeeper::new(&store, source),
            Until::default(),
            || reads.get() > 10,
            None,
            |_, _, _| {},
        );
        let broken =
            matches!(&ended, Ok(SessionEnd::Port(error)) if error.kind() == ErrorKind::ConnectionReset);
        assert!(broken, "{ended:?}");
        assert_eq!(reads.get(), 4);
    }
}
