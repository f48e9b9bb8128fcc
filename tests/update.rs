//! A new program over the link, on the emulated board, by `fourplate lane update`: it comes, is tried and stays; one that
//! hangs or starts over and over gives way to the one before; a reset on the way does no harm.
//!
//! The programs are the image as another version, by its mark, and some of a few instructions. Below that the same in the test's
//! own time, where a program is any bytes: what may be told when, and until when one is on trial.

use firmware::update::TRIAL_MS;
use host::{link::Notice, store::Store};
use shared::{
    plate::PerPlate,
    units::Milliseconds,
    wire::{
        Decoded, DeviceId, DeviceMessage, FrameReader, HostMessage, LinkKey, Refusal, ResetCause, UpdateHead,
        UpdatePart, UpdateStage, UpdateState, crc32, decode, update::program_mark,
    },
};
use std::{
    io::Write,
    net::{Shutdown, TcpListener, TcpStream},
    path::{Path, PathBuf},
    process::{Command, Stdio},
};
use tests::{
    emulator::{Emulator, Heard, image, listen},
    joint::Joint,
    program::{Ran, path},
    recording::Event,
};

/// Where the program runs (firmware/memory.x).
const SLOT: u32 = 0x2143_2000;
/// `b .`
const HANG: &[u16] = &[0xE7FE];
/// `ldr r0, [pc, #4]; ldr r1, [pc, #8]; str r1, [r0]; b .`, and where to write what so that the processor starts again.
const STARTS: &[u16] = &[0x4801, 0x4902, 0x6001, 0xE7FE, 0xED0C, 0xE000, 0x0004, 0x05FA];

/// The board, whoever speaks to it, and the farm's store.
struct Lane {
    emulator: Emulator,
    folder: tempfile::TempDir,
    host: Option<TcpStream>,
    reader: FrameReader,
    /// The last boot of which the device told.
    boot: u32,
    clock: u64,
}

impl Lane {
    /// A board of the probe's program, paired.
    fn new() -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        let mut lane = Self {
            emulator: Emulator::start(false),
            folder,
            host: None,
            reader: FrameReader::new(),
            boot: 0,
            clock: 0,
        };
        let paired = lane.run("pair", &[]);
        assert_eq!(paired.code, 0, "{}", paired.err);
        lane
    }

    fn store(&self) -> PathBuf {
        self.folder.path().join("store")
    }

    /// Writes a program to a file, and gives it to the device.
    fn update(&mut self, program: &[u8]) -> (Ran, serde_json::Value) {
        self.update_with(program, |_, _| {})
    }

    fn update_with(
        &mut self,
        program: &[u8],
        meanwhile: impl FnMut(&mut Self, usize),
    ) -> (Ran, serde_json::Value) {
        let file = self.folder.path().join("program.bin");
        std::fs::write(&file, program).expect("written");
        let ran = self.run_with("update", &[&file.to_string_lossy(), "--format", "json"], meanwhile);
        let row = serde_json::from_str(&ran.out).unwrap_or_default();
        (ran, row)
    }

    fn run(&mut self, work: &str, words: &[&str]) -> Ran {
        self.run_with(work, words, |_, _| {})
    }

    /// Runs `fourplate lane WORK` at the device, whose plates are empty meanwhile. `meanwhile` learns how many bytes the
    /// program has said so far.
    fn run_with(&mut self, work: &str, words: &[&str], mut meanwhile: impl FnMut(&mut Self, usize)) -> Ran {
        let listener = TcpListener::bind("127.0.0.1:0").expect("a free port");
        let address = listener.local_addr().expect("bound").to_string();
        let mut child = Command::new(path("fourplate"))
            .arg("--store")
            .arg(self.store())
            .args(["lane", work, "--tcp", &address])
            .args(words)
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("it starts");
        let (stream, _) = listener.accept().expect("it connects");
        listen(&stream, &self.emulator.teller(), Heard::Host, Heard::HostGone);
        self.host = Some(stream);
        let mut said = 0;
        while child.try_wait().expect("a child").is_none() {
            let readings: Vec<Event> = (1..=10)
                .map(|n| Event::Reading(Milliseconds(self.clock + 5 * n), PerPlate::default()))
                .collect();
            self.clock += 50;
            let Self { emulator, host, reader, boot, .. } = self;
            emulator.play(&readings, |emulator, heard| match heard {
                Heard::Device(bytes) => {
                    let _ = host.as_mut().map(|host| host.write_all(&bytes));
                    reader.payloads(&bytes, |payload| {
                        let told = match decode::<DeviceMessage>(payload) {
                            Decoded::Message(DeviceMessage::Hello(hello)) => hello.boot,
                            Decoded::Message(DeviceMessage::Paired(paired)) => paired.boot,
                            _ => return,
                        };
                        if core::mem::replace(boot, told) != told {
                            emulator.started_anew();
                        }
                    });
                }
                Heard::Host(bytes) => {
                    said += bytes.len();
                    emulator.say(&bytes);
                }
                _ => {}
            });
            meanwhile(self, said);
        }
        let output = child.wait_with_output().expect("it ends");
        if let Some(host) = self.host.take() {
            let _ = host.shutdown(Shutdown::Both);
        }
        let text = |bytes: Vec<u8>| String::from_utf8(bytes).expect("text");
        Ran {
            code: output.status.code().expect("not killed"),
            out: text(output.stdout),
            err: text(output.stderr),
        }
    }
}

fn program() -> Vec<u8> {
    std::fs::read(image().with_extension("bin")).expect("firmware/build-image has built it")
}

/// The image as another version, by its mark.
fn version(version: [u8; 3]) -> Vec<u8> {
    let mut program = program();
    let mark = b"fourplate\0lane\0\x01";
    let at = program.windows(mark.len()).position(|window| window == mark).expect("a mark") + mark.len() + 16;
    program[at..at + 3].copy_from_slice(&version);
    program
}

/// A program of a few instructions and so many bytes, for the same board.
fn small(code: &[u16], length: usize) -> Vec<u8> {
    let mark = program_mark("mps2-an386", [0, 9, 9]);
    let at = SLOT + 64 + u32::try_from(mark.len()).expect("short");
    // The stack, and every vector: the one for faults too.
    let mut program = 0x2000_1000_u32.to_le_bytes().to_vec();
    (0..15).for_each(|_| program.extend((at | 1).to_le_bytes()));
    program.extend(mark);
    code.iter().for_each(|half| program.extend(half.to_le_bytes()));
    program.resize(length, 0xFF);
    program
}

fn outcome(row: &serde_json::Value) -> (&str, &str) {
    (row["outcome"].as_str().unwrap_or_default(), row["version"].as_str().unwrap_or_default())
}

#[test]
fn a_new_version_comes_and_stays_and_what_hangs_or_starts_over_and_over_gives_way_to_it() {
    let mut lane = Lane::new();
    let (ran, row) = lane.update(&version([0, 3, 0]));
    assert_eq!((ran.code, outcome(&row)), (0, ("up", "0.3.0")), "{}", ran.err);
    for code in [HANG, STARTS] {
        let (ran, row) = lane.update(&small(code, 1_000));
        assert_eq!((ran.code, outcome(&row)), (1, ("fell back", "0.3.0")), "{code:x?}: {}", ran.err);
        assert!(ran.err.contains("tries it"), "{}", ran.err);
    }
    // What it was told before lies in its flash: it is still paired, and runs what stayed.
    lane.emulator.reset();
    let ran = lane.run("settings", &["--format", "json"]);
    assert!(ran.code == 0 && lane.boot == 5, "{} boots: {}", lane.boot, ran.err);
}

#[test]
fn a_device_that_starts_anew_on_the_way_is_told_all_over_again() {
    let mut lane = Lane::new();
    let mut cuts = vec![3_000, 9_000];
    let (ran, row) = lane.update_with(&small(HANG, 9_000), |lane, said| {
        if cuts.first().is_some_and(|cut| said > *cut) {
            cuts.remove(0);
            lane.emulator.reset();
        }
    });
    assert_eq!((ran.code, outcome(&row)), (1, ("fell back", "0.1.0")), "{}", ran.err);
    assert!(cuts.is_empty(), "it was reset twice");
}

#[test]
fn what_cannot_run_there_is_refused_in_words() {
    let mut lane = Lane::new();
    let refused = |lane: &mut Lane, program: &[u8], why: &str| {
        let (ran, _) = lane.update(program);
        assert_ne!(ran.code, 0);
        assert!(ran.err.contains(why), "{}", ran.err);
    };
    let mut other = program();
    let at = other.windows(10).position(|window| window == b"mps2-an386").expect("its board");
    other[at..at + 10].copy_from_slice(b"some-board");
    // The name of the board stands a second time in the image, where it is said.
    refused(&mut lane, &other, "the program is for some-board, the device is mps2-an386");
    let mut long = version([0, 5, 0]);
    long.resize(192 * 1024 - 31, 0);
    refused(&mut lane, &long, "the device has room for 196576");
    let nothing = Path::new(env!("CARGO_MANIFEST_DIR")).join("budgets.toml");
    let ran = tests::program::fourplate(
        &lane.store(),
        &["lane", "update", "--tcp", "127.0.0.1:1", &nothing.to_string_lossy()],
    );
    assert!(ran.code != 0 && ran.err.contains("no program of a lane device"), "{}", ran.err);
}

/// The number of the device in memory, and its key.
const DEVICE: DeviceId = DeviceId(0xFA4E);
const KEY: LinkKey = LinkKey([0x7E; 32]);
/// Bytes of a slot in memory.
const SLOT_BYTES: u32 = 8_192;

/// A device in memory with a host.
fn joint(store: &Store, paired: bool) -> Joint<'_> {
    let mut joint = Joint::with_programs(store, 40, 7, SLOT_BYTES);
    if paired {
        store.put_link_key(DEVICE, Some(KEY)).expect("kept");
    }
    joint.connect();
    joint.run(2_000);
    if paired {
        joint.say(&HostMessage::Pair(KEY));
        joint.run(3_000);
        assert!(joint.is_sealed(), "{:?}", joint.notices);
    }
    joint
}

/// What the device answers to a message.
fn answer(joint: &mut Joint<'_>, message: &HostMessage) -> Result<UpdateState, Refusal> {
    joint.notices.clear();
    joint.say(message);
    joint.run(200);
    let mut answers = joint.notices.iter().filter_map(|notice| match notice {
        Notice::Answer(answer) => match &**answer {
            DeviceMessage::Update(state) => Some(Ok(state.clone())),
            DeviceMessage::Refused(refusal) => Some(Err(*refusal)),
            _ => None,
        },
        _ => None,
    });
    answers.next_back().expect("an answer")
}

fn head(program: &[u8]) -> HostMessage {
    let (image, bytes) = (crc32(program), u32::try_from(program.len()).expect("short"));
    HostMessage::Update(UpdateHead { image, bytes, board: "fake".try_into().expect("short") })
}

fn parts(program: &[u8]) -> Vec<HostMessage> {
    let part = |(n, data): (usize, &[u8])| {
        let at = u32::try_from(224 * n).expect("short");
        HostMessage::UpdatePart(UpdatePart {
            image: crc32(program),
            at,
            data: data.iter().copied().collect(),
        })
    };
    program.chunks(224).enumerate().map(part).collect()
}

/// Brings a program, and starts the device with it.
fn on_trial<'s>(store: &'s Store) -> Joint<'s> {
    let mut joint = joint(store, true);
    let program = [3; 300];
    answer(&mut joint, &head(&program)).expect("followed");
    for part in parts(&program) {
        answer(&mut joint, &part).expect("followed");
    }
    assert!(joint.board.scale.wants_restart());
    joint.disconnect();
    joint.reboot(ResetCause::Software);
    joint
}

fn stage(joint: &mut Joint<'_>) -> UpdateStage {
    answer(joint, &HostMessage::GetUpdate).expect("asked").stage
}

/// The same after another start, with a host.
fn stage_after_a_start(joint: &mut Joint<'_>) -> UpdateStage {
    joint.reboot(ResetCause::PowerOn);
    joint.connect();
    joint.run(6_000);
    stage(joint)
}

#[test]
fn a_program_is_taken_from_the_paired_host_only() {
    let store = Store::in_memory().expect("a store");
    let mut joint = joint(&store, false);
    for message in [vec![HostMessage::GetUpdate, head(&[3; 300])], parts(&[3; 300])].concat() {
        assert_eq!(answer(&mut joint, &message), Err(Refusal::NotPaired), "{message:?}");
    }
}

#[test]
fn while_a_cow_is_on_the_plates_no_flash_is_written_for_a_program() {
    let store = Store::in_memory().expect("a store");
    let mut joint = joint(&store, true);
    let program = [3; 300];
    // Plates that were never set to zero might weigh nothing but themselves.
    let mut settings = joint.board.scale.settings().clone();
    settings.zero.0[0].0 = 1;
    joint.say(&HostMessage::SetSettings(settings));
    joint.run(1_000);
    joint.reboot(ResetCause::Software);
    joint.connect();
    joint.run(6_000);
    answer(&mut joint, &head(&program)).expect("nobody is near");
    joint.deck.cows = vec![joint.now];
    joint.run(3_000);
    assert!(joint.board.scale.is_occupied());
    assert_eq!(answer(&mut joint, &parts(&program)[0]), Err(Refusal::Busy));
    assert_eq!(answer(&mut joint, &HostMessage::GetUpdate).map(|state| state.next), Ok(0), "asked, not told");
    joint.run(12_000);
    assert_eq!(answer(&mut joint, &parts(&program)[0]).map(|state| state.next), Ok(224));
    // Pairing anew forgets it.
    joint.say(&HostMessage::Pair(KEY));
    joint.run(6_000);
    assert_eq!(answer(&mut joint, &HostMessage::GetUpdate).map(|state| state.coming), Ok(0));
}

#[test]
fn a_program_on_trial_stays_once_its_host_is_heard_and_the_plates_are_read() {
    let store = Store::in_memory().expect("a store");
    // Plates that are read, but nobody who speaks.
    let mut joint = on_trial(&store);
    joint.run(60_000);
    assert_eq!(stage_after_a_start(&mut joint), UpdateStage::FellBack);
    // A host that speaks, and plates that are not read.
    let mut joint = on_trial(&store);
    joint.connect();
    joint.quiet(20_000);
    assert!(joint.is_sealed());
    assert_eq!(stage_after_a_start(&mut joint), UpdateStage::FellBack);
    // Both.
    let mut joint = on_trial(&store);
    joint.connect();
    joint.run(6_000);
    assert_eq!(stage(&mut joint), UpdateStage::Settled);
    assert_eq!(stage_after_a_start(&mut joint), UpdateStage::Settled);
}

#[test]
fn a_program_that_nobody_hears_of_is_given_up_after_ten_minutes() {
    let store = Store::in_memory().expect("a store");
    let mut joint = on_trial(&store);
    joint.quiet(TRIAL_MS - 50);
    assert!(!joint.board.scale.wants_restart());
    joint.quiet(100);
    assert!(joint.board.scale.wants_restart());
    // A program that is to stay waits for nobody.
    let mut settled = on_trial(&store);
    settled.connect();
    settled.run(6_000);
    settled.disconnect();
    settled.quiet(TRIAL_MS + 1_000);
    assert!(!settled.board.scale.wants_restart());
}
