use super::*;
use crate::link::fake_device::{FakeDevice, frame};
use crate::link::{Line, StoreKeeper};
use crate::store::Store;
use shared::wire::{Decoded, FrameReader, decode, update::program_mark};
use std::{
    io::{self, Read, Write},
    sync::atomic::{AtomicBool, Ordering},
};

type Answer<'d> = Box<dyn FnMut(HostMessage) -> Vec<UpdateState> + 'd>;

/// A device at a port: says hello, and answers each message as `answer` has it.
struct Answering<'d> {
    reader: FrameReader,
    ready: Vec<u8>,
    answer: Answer<'d>,
}

impl Read for Answering<'_> {
    fn read(&mut self, bytes: &mut [u8]) -> io::Result<usize> {
        if self.ready.is_empty() {
            return Err(io::ErrorKind::WouldBlock.into());
        }
        let length = bytes.len().min(self.ready.len());
        bytes[..length].copy_from_slice(&self.ready[..length]);
        self.ready.drain(..length);
        Ok(length)
    }
}

impl Write for Answering<'_> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let (ready, answer) = (&mut self.ready, &mut self.answer);
        self.reader.payloads(bytes, |payload| {
            if let Decoded::Message(message) = decode::<HostMessage>(payload) {
                ready.extend(
                    answer(message).into_iter().flat_map(|state| frame(&DeviceMessage::Update(state))),
                );
            }
        });
        Ok(bytes.len())
    }
    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

/// A program of two parts, of version 1.2.3: its mark, and as many bytes more as a part has.
fn program() -> Program {
    let mark = program_mark("a-board", [1, 2, 3]);
    Program::of([&mark[..], &[7; MAX_TRACE_DATA_BYTES]].concat()).expect("marked")
}

/// What comes of asking a device that answers so.
fn with<'d, T>(
    stop: &AtomicBool,
    answer: impl FnMut(HostMessage) -> Vec<UpdateState> + 'd,
    ask: impl FnOnce(&mut Operator<'_, Answering<'d>, StoreKeeper<'_>>) -> T,
) -> T {
    let store = Store::in_memory().expect("memory");
    let source = store.begin_source("link", "test", jiff::Timestamp::UNIX_EPOCH).expect("stored");
    let ready = frame(&FakeDevice::new(0.0).hello());
    let device = Answering { reader: FrameReader::new(), ready, answer: Box::new(answer) };
    let keeper = StoreKeeper::new(&store, source);
    let mut operator = Operator::meet(device, Line::Cable, keeper, stop).expect("met");
    ask(&mut operator)
}

#[test]
fn a_program_is_sent_part_by_part_after_the_device_says_that_it_is_coming() {
    let program = program();
    let image = program.image;
    let coming = |next, stage| UpdateState { coming: image, next, stage, ..UpdateState::default() };
    let (mut brought, mut told) = (Vec::new(), Vec::new());
    let length = program.length();
    let sent = with(
        &AtomicBool::new(false),
        |message| match message {
            // An answer to something said before comes first: nothing is coming yet.
            HostMessage::Update(_) => vec![UpdateState::default(), coming(0, UpdateStage::Settled)],
            HostMessage::UpdatePart(part) => {
                brought.extend(part.data.iter().copied());
                let next = part.at + part.data.len() as u32;
                vec![coming(next, if next == length { UpdateStage::Ready } else { UpdateStage::Settled })]
            }
            _ => Vec::new(),
        },
        |operator| operator.send(&program, &mut |bringing| told.push(bringing)).expect("sent"),
    );
    assert!(sent);
    assert_eq!(brought, program.bytes);
    let first_part = MAX_TRACE_DATA_BYTES as u32;
    assert_eq!(told, [Bringing::Bytes(0, length), Bringing::Bytes(first_part, length)]);
}

/// What comes of a program where the device says this of its programs and, asked once, is left alone.
fn came(stage: UpdateStage, version: [u8; 3]) -> Result<Came, ProgramError<crate::store::StoreError>> {
    let mut program = program();
    program.version = version;
    let stop = AtomicBool::new(false);
    with(
        &stop,
        |message| match message {
            HostMessage::GetUpdate => {
                stop.store(stage == UpdateStage::OnTrial, Ordering::Relaxed);
                vec![UpdateState { stage, ..UpdateState::default() }]
            }
            _ => Vec::new(),
        },
        |operator| operator.outcome(&program),
    )
}

#[test]
fn what_runs_says_what_came_of_a_program_and_one_on_trial_is_waited_for() {
    // The device of these tests runs 0.1.0.
    assert!(matches!(came(UpdateStage::Settled, [0, 1, 0]), Ok(Came::Up)));
    assert!(matches!(came(UpdateStage::Settled, [1, 2, 3]), Ok(Came::FellBack([0, 1, 0]))));
    assert!(matches!(came(UpdateStage::FellBack, [0, 1, 0]), Ok(Came::FellBack([0, 1, 0]))));
    // Two minutes have not passed: only being stopped ends the wait.
    let waited = came(UpdateStage::OnTrial, [0, 1, 0]);
    assert!(matches!(waited, Err(ProgramError::Line(OperatorError::Stopped))), "{waited:?}");
}
