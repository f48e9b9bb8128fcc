//! A new program for a device: brought over the line while the old one runs, tried by the device, and kept or given up.

use super::{Operator, OperatorError};
use crate::link::connect::Port;
use crate::link::{Keeper, Session};
use heapless::String as Short;
use shared::{
    limits::{MAX_BOARD_BYTES, MAX_TRACE_DATA_BYTES},
    wire::{
        DeviceMessage, HostMessage, Refusal, UPDATE_SCHEMA, UpdateHead, UpdatePart, UpdateStage, UpdateState,
        crc32, update::marked,
    },
};
use std::{
    ops::ControlFlow,
    time::{Duration, Instant},
};

/// An answer comes within this time; our choice: a page of flash is erased in less than one second.
const WAIT: Duration = Duration::from_secs(12);
/// What is not answered is said again after this time; our choice.
const AGAIN: Duration = Duration::from_secs(2);
/// A cow on the plates is waited for so long; our choice.
const COW_WAIT: Duration = Duration::from_secs(10 * 60);
/// The device exchanges its programs and starts within this time; our choice: half a minute for the slowest flash.
const START_WAIT: Duration = Duration::from_secs(90);
/// A program on trial is waited for so long; our choice: it settles as soon as the line is open and the plates are read.
const TRIAL_WAIT: Duration = Duration::from_secs(120);

/// Why a file is no program of a lane.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("this is no program of a lane device: it carries no mark of its board (or more than one)")]
pub struct NoProgram;

/// A program, with what its mark says.
#[derive(Clone, Debug)]
pub struct Program {
    bytes: Vec<u8>,
    board: Short<MAX_BOARD_BYTES>,
    /// Its version: major, minor, patch.
    pub version: [u8; 3],
    /// CRC-32/ISCSI of it.
    image: u32,
}

impl Program {
    /// Takes the bytes of a program, as they lie in its slot.
    ///
    /// # Errors
    /// They are none.
    pub fn of(bytes: Vec<u8>) -> Result<Self, NoProgram> {
        let (board, version) = marked(&bytes).ok_or(NoProgram)?;
        let board = board.try_into().map_err(|_| NoProgram)?;
        let image = crc32(&bytes);
        Ok(Self { bytes, board, version, image })
    }

    fn head(&self) -> UpdateHead {
        UpdateHead { image: self.image, bytes: self.length(), board: self.board.clone() }
    }

    /// No device has room for what does not fit 32 bits.
    fn length(&self) -> u32 {
        u32::try_from(self.bytes.len()).unwrap_or(u32::MAX)
    }

    fn part(&self, at: u32) -> UpdatePart {
        let rest = self.bytes.get(at as usize..).unwrap_or_default();
        let data = rest.iter().copied().take(MAX_TRACE_DATA_BYTES).collect();
        UpdatePart { image: self.image, at, data }
    }
}

/// Why a program could not be brought. What runs on the device is what ran before.
#[derive(Debug, thiserror::Error)]
pub enum ProgramError<E: std::error::Error + 'static> {
    /// The line, or the device's refusal.
    #[error(transparent)]
    Line(#[from] OperatorError<E>),
    /// The device knows of no update.
    #[error(
        "the device's program speaks schema {0} and takes no other over the line: write one with a probe"
    )]
    TooOld(u16),
    /// The device is not paired.
    #[error(
        "the device is not paired, and takes a program from its own host only: `fourplate lane pair` by its cable"
    )]
    NotPaired,
    /// The device has one slot.
    #[error("the device has no room for a second program: write one with a probe")]
    NoRoom,
    /// A program for another board.
    #[error("the program is for {program}, the device is {device}")]
    OtherBoard {
        /// The program's.
        program: String,
        /// The device's.
        device: String,
    },
    /// Too long.
    #[error("the program has {bytes} bytes, the device has room for {room}")]
    TooLong {
        /// The program's.
        bytes: u32,
        /// The device's.
        room: u32,
    },
    /// Cows all the time.
    #[error("a cow was on the plates all the time: do it between two milkings")]
    Cows,
    /// It began anew too often.
    #[error("the device lost what it had been told, again and again: is its power steady?")]
    Lost,
}

/// What came of a new program.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Came {
    /// It runs and stays.
    Up,
    /// It did not come up, and the one of this version runs again.
    FellBack([u8; 3]),
    /// It runs, and the plates give it no readings; unless they do, the device goes back to the one before.
    OnTrial,
}

/// How far it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Bringing {
    /// So many bytes of so many are there.
    Bytes(u32, u32),
    /// A cow is on the plates: it goes on when she has left.
    Cow,
    /// All is there; the device starts with it.
    Starts,
}

/// The device may begin anew so often; our choice.
const ATTEMPTS: usize = 5;

impl<P: Port, K: Keeper> Operator<'_, P, K> {
    /// Brings a program, has it tried, and waits for what comes of it.
    ///
    /// # Errors
    /// It cannot run there, or the line was lost; what ran before runs then.
    pub fn bring(
        &mut self,
        program: &Program,
        mut told: impl FnMut(Bringing),
    ) -> Result<Came, ProgramError<K::Error>> {
        self.check(program)?;
        for _ in 0..ATTEMPTS {
            if self.send(program, &mut told)? {
                told(Bringing::Starts);
                let boot = self.device().map_or(0, |hello| hello.boot);
                self.after_restart(boot, START_WAIT)?;
                return self.outcome(program);
            }
        }
        Err(ProgramError::Lost)
    }

    /// Whether the program can run there.
    fn check(&mut self, program: &Program) -> Result<(), ProgramError<K::Error>> {
        let schema = self.device().map_or(0, |hello| hello.schema);
        if schema < UPDATE_SCHEMA {
            return Err(ProgramError::TooOld(schema));
        }
        if !self.is_sealed() {
            return Err(ProgramError::NotPaired);
        }
        let UpdateState { board, room, .. } = self.programs()?;
        if room == 0 {
            Err(ProgramError::NoRoom)
        } else if board != program.board {
            Err(ProgramError::OtherBoard {
                program: program.board.as_str().to_owned(),
                device: board.as_str().to_owned(),
            })
        } else if program.length() > room {
            Err(ProgramError::TooLong { bytes: program.length(), room })
        } else {
            Ok(())
        }
    }

    /// How it stands with the programs of the device.
    fn programs(&mut self) -> Result<UpdateState, OperatorError<K::Error>> {
        self.ask(&HostMessage::GetUpdate, WAIT, Some(AGAIN), said)
    }

    /// Sends the whole of it. False where the device forgot what it had.
    fn send(
        &mut self,
        program: &Program,
        told: &mut impl FnMut(Bringing),
    ) -> Result<bool, ProgramError<K::Error>> {
        let mut next = 0;
        let begin = HostMessage::Update(program.head());
        let mut state = self.order(&begin, told, |state| state.coming == program.image)?;
        while state.stage != UpdateStage::Ready {
            if state.coming != program.image || state.next < next {
                return Ok(false);
            }
            next = state.next;
            told(Bringing::Bytes(next, program.length()));
            let part = HostMessage::UpdatePart(program.part(next));
            // An answer to what was said before says what we know already.
            state = self.order(&part, told, |state| state.coming != program.image || state.next != next)?;
        }
        Ok(true)
    }

    /// Says what the device follows only while no cow is on its plates.
    fn order(
        &mut self,
        message: &HostMessage,
        told: &mut impl FnMut(Bringing),
        news: impl Fn(&UpdateState) -> bool,
    ) -> Result<UpdateState, ProgramError<K::Error>> {
        let begin = Instant::now();
        loop {
            let wanted = |message: &DeviceMessage| {
                said(message).filter(|state| state.stage == UpdateStage::Ready || news(state))
            };
            match self.ask(message, WAIT, Some(AGAIN), wanted) {
                Err(OperatorError::Refused(Refusal::Busy)) if begin.elapsed() < COW_WAIT => {
                    told(Bringing::Cow);
                    self.hear(AGAIN, |_| ControlFlow::Continue(()))?;
                }
                Err(OperatorError::Refused(Refusal::Busy)) => return Err(ProgramError::Cows),
                other => return Ok(other?),
            }
        }
    }

    /// Waits until the device has started anew and hears us again.
    fn after_restart(&mut self, boot: u32, wait: Duration) -> Result<(), OperatorError<K::Error>> {
        let end = Instant::now() + wait;
        let met = |session: &Session<K>| {
            session.is_sealed() && session.device().is_some_and(|hello| hello.boot != boot)
        };
        while !met(&self.session) {
            self.turn(end)?;
        }
        Ok(())
    }

    fn outcome(&mut self, program: &Program) -> Result<Came, ProgramError<K::Error>> {
        let begin = Instant::now();
        loop {
            let stage = self.programs()?.stage;
            let version = self.device().map_or([0; 3], |hello| hello.firmware);
            // A cut in the very moment of settling leaves word of a fall that did not happen: what runs counts.
            match stage {
                UpdateStage::OnTrial if begin.elapsed() < TRIAL_WAIT => {
                    self.hear(AGAIN, |_| ControlFlow::Continue(()))?;
                }
                UpdateStage::OnTrial => return Ok(Came::OnTrial),
                UpdateStage::FellBack => return Ok(Came::FellBack(version)),
                _ if version == program.version => return Ok(Came::Up),
                _ => return Ok(Came::FellBack(version)),
            }
        }
    }
}

fn said(message: &DeviceMessage) -> Option<UpdateState> {
    match message {
        DeviceMessage::Update(state) => Some(state.clone()),
        _ => None,
    }
}

#[cfg(test)]
mod tests;
