//! The real image under QEMU: its link and its plates as sockets of the test, and what it tells at the end.
//!
//! Everything waits for something to come, never for time to pass; a guard ends what would wait for ever.

use super::recording::Event;
use shared::{
    limits::{MAX_FRAME_BYTES, MAX_TRACE_DATA_BYTES},
    wire::{Sample, TraceEncoder, frame::frame_payload, trace::MAX_SAMPLE_BYTES},
};
use std::{
    collections::HashMap,
    io::{Read, Write},
    net::{TcpListener, TcpStream},
    path::{Path, PathBuf},
    process::{Child, Command, Stdio},
    sync::mpsc::{Receiver, Sender, channel},
    time::{Duration, Instant},
};

/// No run of a test takes nearly as long.
const GUARD: Duration = Duration::from_secs(600);
/// Frames on their way to the plates and not yet answered.
const WINDOW: usize = 8;
/// Instructions a tick of the board's clock, at one instruction a nanosecond and 25 MHz.
const INSTRUCTIONS_A_TICK: f64 = 40.0;

/// The image that `firmware/build-image` builds.
///
/// # Panics
/// Where it is not built.
#[must_use]
pub fn image() -> PathBuf {
    image_for("thumbv7em-none-eabihf")
}

/// The same in the code of another processor, which the emulated one runs too.
///
/// # Panics
/// Where it is not built.
#[must_use]
pub fn image_for(target: &str) -> PathBuf {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).parent().expect("the tests folder has a parent");
    let image = root.join("target/device").join(target).join("firmware/mps2");
    assert!(image.exists(), "{} is not there: run firmware/build-image first", image.display());
    image
}

/// Something that came.
#[derive(Debug, PartialEq, Eq)]
pub enum Heard {
    /// Bytes of the device's link.
    Device(Vec<u8>),
    /// The device has done what a frame asked for.
    Done,
    /// The emulator has ended.
    Ended,
    /// Bytes of a host, where a test passes them on.
    Host(Vec<u8>),
    /// That host has gone.
    HostGone,
}

/// What the readings cost, as the image told it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cost {
    /// Readings taken.
    pub readings: u32,
    /// Readings with somebody on the deck.
    pub occupied: u32,
    /// Instructions a reading, mean.
    pub mean: f64,
    /// The same with somebody on the deck.
    pub mean_occupied: f64,
    /// Instructions of the costliest reading.
    pub most: f64,
    /// Instructions that judging a cow took at most.
    pub most_answer: f64,
    /// Deepest stack, bytes.
    pub stack: u32,
}

/// A running image.
pub struct Emulator {
    process: Child,
    link: TcpStream,
    plates: TcpStream,
    heard: Receiver<Heard>,
    tell: Sender<Heard>,
    unanswered: usize,
    over_at: Instant,
}

impl Emulator {
    /// Starts the image. With `counted`, one instruction takes one nanosecond of the board's time.
    ///
    /// # Panics
    /// Where QEMU cannot be run.
    #[must_use]
    pub fn start(counted: bool) -> Self {
        Self::start_image(&image(), counted)
    }

    /// The same with another image.
    ///
    /// # Panics
    /// Where QEMU cannot be run.
    #[must_use]
    pub fn start_image(image: &Path, counted: bool) -> Self {
        let binary = image.with_extension("bin");
        let (first, second) = (listener(), listener());
        let socket = |id: &str, at: &TcpListener| {
            format!("socket,id={id},host=127.0.0.1,port={}", at.local_addr().expect("bound").port())
        };
        let mut command = Command::new("qemu-system-arm");
        command.args(["-machine", "mps2-an386", "-display", "none", "-monitor", "none"]);
        command.args(["-chardev", &socket("link", &first), "-serial", "chardev:link"]);
        command.args(["-chardev", &socket("plates", &second), "-serial", "chardev:plates"]);
        command.args(["-chardev", "stdio,id=out"]);
        command.args(["-semihosting-config", "enable=on,target=native,chardev=out"]);
        if counted {
            command.args(["-icount", "shift=0"]);
        }
        // The loader starts, and takes the program that a person would write with a probe from where QEMU has put it.
        command.arg("-kernel").arg(image.with_file_name("mps2-loader"));
        command.args(["-device", &format!("loader,file={},addr=0x100000,force-raw=on", binary.display())]);
        let process =
            command.stdin(Stdio::null()).stdout(Stdio::piped()).spawn().expect("qemu-system-arm runs");
        let (link, _) = first.accept().expect("the emulator connects");
        let (plates, _) = second.accept().expect("the emulator connects");
        for stream in [&link, &plates] {
            stream.set_nodelay(true).expect("a socket");
        }
        let (tell, heard) = channel();
        listen(&link, &tell, Heard::Device, Heard::Ended);
        let done = tell.clone();
        let mut answers = plates.try_clone().expect("a socket");
        std::thread::spawn(move || {
            let mut bytes = [0; 64];
            while let Ok(count @ 1..) = answers.read(&mut bytes) {
                for _ in 0..count {
                    let _ = done.send(Heard::Done);
                }
            }
        });
        Self { process, link, plates, heard, tell, unanswered: 0, over_at: Instant::now() + GUARD }
    }

    /// Where a test's own threads tell what they hear.
    #[must_use]
    pub fn teller(&self) -> Sender<Heard> {
        self.tell.clone()
    }

    /// Sends bytes over the link.
    pub fn say(&mut self, bytes: &[u8]) {
        // An emulator that has ended is found out by what is heard.
        let _ = self.link.write_all(bytes);
    }

    /// The next thing that comes.
    ///
    /// # Panics
    /// Where the run does not come to its end.
    pub fn wait(&mut self) -> Heard {
        let left = self.over_at.saturating_duration_since(Instant::now());
        let heard = self.heard.recv_timeout(left).expect("the run ends in time");
        if heard == Heard::Done {
            self.unanswered = self.unanswered.saturating_sub(1);
        }
        heard
    }

    /// Something that has come already.
    pub fn poll(&mut self) -> Option<Heard> {
        let heard = self.heard.try_recv().ok()?;
        if heard == Heard::Done {
            self.unanswered = self.unanswered.saturating_sub(1);
        }
        Some(heard)
    }

    /// Plays events and lets `hear` take what comes meanwhile; it gets the emulator to answer.
    pub fn play(&mut self, events: &[Event], mut hear: impl FnMut(&mut Self, Heard)) {
        for payload in payloads(events) {
            self.ask(&payload);
            while let Some(heard) = self.poll() {
                hear(self, heard);
            }
            while self.unanswered >= WINDOW {
                let heard = self.wait();
                hear(self, heard);
            }
        }
        self.settle(hear);
    }

    /// Waits until all that was played is done.
    pub fn settle(&mut self, mut hear: impl FnMut(&mut Self, Heard)) {
        while self.unanswered > 0 {
            let heard = self.wait();
            hear(self, heard);
        }
    }

    /// Ends the readings; the image ends once the host has acknowledged everything, if so asked.
    pub fn finish(&mut self, acknowledged: bool) {
        self.ask(&[b'C', 2, u8::from(acknowledged)]);
    }

    /// Resets the device as a power cut does. The answer never comes.
    pub fn reset(&mut self) {
        self.ask(b"C\x03");
        self.unanswered -= 1;
    }

    /// The device has started by itself: what it had not answered by then it never will.
    pub const fn started_anew(&mut self) {
        self.unanswered = 0;
    }

    /// Lets the image count what things cost from here on.
    pub fn count_anew(&mut self) {
        self.ask(b"C\x06");
    }

    /// Opens the gate's stop input, or closes it.
    pub fn stop(&mut self, open: bool) {
        self.ask(&[b'C', 5, u8::from(open)]);
    }

    /// Lets the device panic. The answer never comes.
    pub fn panic(&mut self) {
        self.ask(b"C\x04");
        self.unanswered -= 1;
    }

    /// What the image told when it ended.
    ///
    /// # Panics
    /// Where it ended badly.
    #[must_use]
    pub fn cost(self) -> Cost {
        self.end().0
    }

    /// The same, and when the gate's output went high, on the device's clock, ms.
    ///
    /// # Panics
    /// Where it ended badly.
    #[must_use]
    pub fn end(mut self) -> (Cost, Vec<u64>) {
        let mut text = String::new();
        self.process.stdout.take().expect("piped").read_to_string(&mut text).expect("text");
        assert!(self.process.wait().expect("it ends").success(), "{text}");
        let words: Vec<&str> = text.split_whitespace().collect();
        let told: Vec<(&str, u32)> =
            words.chunks(2).map(|pair| (pair[0], pair[1].parse().expect("a number"))).collect();
        let moves = told.iter().filter(|(word, _)| *word == "high").map(|(_, ms)| u64::from(*ms)).collect();
        let told: HashMap<&str, u32> = told.into_iter().collect();
        let mean =
            |ticks: &str, of: &str| INSTRUCTIONS_A_TICK * f64::from(told[ticks]) / f64::from(told[of].max(1));
        let cost = Cost {
            readings: told["readings"],
            occupied: told["occupied"],
            mean: mean("ticks", "readings"),
            mean_occupied: mean("occupied_ticks", "occupied"),
            most: INSTRUCTIONS_A_TICK * f64::from(told["most_ticks"]),
            most_answer: INSTRUCTIONS_A_TICK * f64::from(told["most_answer_ticks"]),
            stack: told["stack"],
        };
        (cost, moves)
    }

    fn ask(&mut self, payload: &[u8]) {
        let mut frame = [0; MAX_FRAME_BYTES];
        let length = frame_payload(payload, &mut frame).expect("short enough");
        self.plates.write_all(&frame[..length]).expect("the emulator reads");
        self.unanswered += 1;
    }
}

impl Drop for Emulator {
    fn drop(&mut self) {
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

fn listener() -> TcpListener {
    TcpListener::bind("127.0.0.1:0").expect("a free port")
}

/// Tells what comes over a stream until it ends.
pub fn listen(stream: &TcpStream, tell: &Sender<Heard>, bytes: fn(Vec<u8>) -> Heard, ended: Heard) {
    let (mut stream, tell) = (stream.try_clone().expect("a socket"), tell.clone());
    std::thread::spawn(move || {
        let mut room = [0; 4096];
        while let Ok(count @ 1..) = stream.read(&mut room) {
            let _ = tell.send(bytes(room[..count].to_vec()));
        }
        let _ = tell.send(ended);
    });
}

/// Events as payloads for the board's second port: runs of samples, and tag lines between them.
fn payloads(events: &[Event]) -> Vec<Vec<u8>> {
    let begin = || (vec![b'C', 0], TraceEncoder::new());
    let mut payloads = Vec::new();
    let (mut run, mut encoder) = begin();
    for event in events {
        if !matches!(event, Event::Reading(..)) || run.len() + MAX_SAMPLE_BYTES > MAX_TRACE_DATA_BYTES {
            payloads.push(std::mem::take(&mut run));
            (run, encoder) = begin();
        }
        match event {
            Event::Reading(time, counts) => {
                let mut room = [0; MAX_SAMPLE_BYTES];
                let sample = Sample { time: *time, values: *counts };
                let length = encoder.push(&sample, &mut room).expect("it fits");
                run.extend_from_slice(&room[..length]);
            }
            Event::Tag(_, line) => payloads.push([b"C\x01", line.as_slice()].concat()),
        }
    }
    payloads.push(run);
    payloads.retain(|payload| payload.len() > 2);
    payloads
}
