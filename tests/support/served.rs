//! A device in a thread of its own, at the other end of a real line.

use firmware::{
    fakes::{Board, Deck, FakePort, SharedFlash},
    scale::Moment,
};
use shared::{plate::PerPlate, units::Milliseconds, wire::ResetCause};
use std::{
    io::{ErrorKind, Read, Write},
    net::{SocketAddr, TcpListener, TcpStream},
    sync::{
        Arc, Mutex,
        atomic::{AtomicBool, Ordering},
    },
    thread::JoinHandle,
    time::Duration,
};

/// A step of the device, ms.
const STEP_MS: u64 = 5;
/// When the cow's first foot lands, ms of the device's time: by then the empty plates are known.
const COW_AT_MS: u64 = 2_000;

/// A line that can be read without waiting.
pub trait Line: Read + Write {}
impl<T: Read + Write> Line for T {}

/// The device.
pub struct Served {
    loads: Arc<Mutex<[f32; 4]>>,
    stop: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

impl Served {
    /// A device whose time runs `pace` times as fast as ours, and which has weighed a cow or none before anybody can reach
    /// it. `line` gives a line that does not wait, whenever there is none.
    pub fn start<L: Line>(
        pace: u32,
        cow: bool,
        mut line: impl FnMut() -> Option<L> + Send + 'static,
    ) -> Self {
        let loads = Arc::new(Mutex::new([0.0; 4]));
        let stop = Arc::new(AtomicBool::new(false));
        let (seen, ended) = (Arc::clone(&loads), Arc::clone(&stop));
        let thread = std::thread::spawn(move || {
            let boot = Board::boot(SharedFlash::new(256), FakePort::default(), ResetCause::PowerOn);
            let (mut board, mut deck, mut now) = (boot.expect("boots"), Deck::new(1), 0);
            if cow {
                deck.cows.push(COW_AT_MS);
                for at in (0..COW_AT_MS + Deck::COW_MS + 3_000).step_by(STEP_MS as usize) {
                    board.scale.sample(Milliseconds(at), &deck.sample(at));
                    now = at;
                }
            }
            let mut connected = None;
            while !ended.load(Ordering::Relaxed) {
                connected = connected.or_else(&mut line);
                for _ in 0..pace {
                    now += STEP_MS;
                    deck.dead_load = PerPlate(*seen.lock().expect("not poisoned"));
                    let clock = Milliseconds(now);
                    board.scale.sample(clock, &deck.sample(now));
                    if connected.as_mut().is_some_and(|line| carry(line, &board.port).is_err()) {
                        connected = None;
                    }
                    let moment = Moment { clock, timer: clock };
                    let _ = board.scale.gate(moment, false);
                    board.scale.talk(moment).expect("the port works");
                    if board.scale.wants_restart() {
                        if let Some(line) = &mut connected {
                            let _ = carry(line, &board.port);
                        }
                        board.reboot(ResetCause::Software).expect("boots");
                        now = 0;
                    }
                }
                std::thread::sleep(Duration::from_millis(STEP_MS));
            }
        });
        Self { loads, stop, thread: Some(thread) }
    }

    /// A device that waits for hosts; where.
    ///
    /// # Panics
    /// Where there is no port.
    #[must_use]
    pub fn listening(pace: u32, cow: bool) -> (Self, SocketAddr) {
        let listener = TcpListener::bind("127.0.0.1:0").expect("a port");
        listener.set_nonblocking(true).expect("a socket");
        let address = listener.local_addr().expect("an address");
        (Self::start(pace, cow, move || listener.accept().ok().map(|(stream, _)| ready(stream))), address)
    }

    /// A device that connects to a host.
    #[must_use]
    pub fn calling(pace: u32, cow: bool, host: SocketAddr) -> Self {
        Self::start(pace, cow, move || TcpStream::connect(host).ok().map(ready))
    }

    /// Puts loads on the plates, kg.
    ///
    /// # Panics
    /// Where the device has broken down.
    pub fn load(&self, loads: [f32; 4]) {
        *self.loads.lock().expect("not poisoned") = loads;
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
        if let Some(thread) = self.thread.take() {
            // A device that broke down has said so itself.
            let _ = thread.join();
        }
    }
}

fn ready(stream: TcpStream) -> TcpStream {
    stream.set_nonblocking(true).expect("a socket");
    stream.set_nodelay(true).expect("a socket");
    stream
}

/// Carries bytes both ways; an error is the end of the line.
fn carry(line: &mut impl Line, port: &FakePort) -> std::io::Result<()> {
    let mut bytes = [0; 512];
    match line.read(&mut bytes) {
        Ok(0) => return Err(ErrorKind::UnexpectedEof.into()),
        Ok(length) => port.put(&bytes[..length]),
        Err(error) if matches!(error.kind(), ErrorKind::WouldBlock | ErrorKind::TimedOut) => {}
        Err(error) => return Err(error),
    }
    let mut out = port.take();
    while !out.is_empty() {
        match line.write(&out) {
            Ok(length) => drop(out.drain(..length)),
            Err(error) if matches!(error.kind(), ErrorKind::WouldBlock | ErrorKind::TimedOut) => {
                std::thread::yield_now();
            }
            Err(error) => return Err(error),
        }
    }
    Ok(())
}
