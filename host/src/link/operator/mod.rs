//! A person at a device: questions are asked over a connection that meanwhile keeps and acknowledges what comes.

pub mod program;

use crate::link::connect::{HostClock, Port, send, waits};
use crate::link::{Keeper, Kept, Line, Notice, Session, SessionError};
use crate::record::ClockPoint;
use shared::wire::{DeviceHello, DeviceId, DeviceMessage, HostMessage, Refusal};
use std::{
    collections::VecDeque,
    io,
    ops::ControlFlow,
    sync::atomic::{AtomicBool, Ordering},
    time::{Duration, Instant},
};

/// How long a device may take to say hello; our choice: it calls every five seconds.
const HELLO_WAIT: Duration = Duration::from_secs(15);

/// Why an answer did not come.
#[derive(Debug, thiserror::Error)]
pub enum OperatorError<E: std::error::Error + 'static> {
    /// The line failed.
    #[error("the line failed: {0}")]
    Port(#[from] io::Error),
    /// The other side closed, or the device fell silent.
    #[error("the connection is lost")]
    Lost,
    /// No answer in time.
    #[error("the device does not answer; see that it has power and that nothing else listens to it")]
    NoAnswer,
    /// The device understood and refused.
    #[error("the device refuses: {}", why(.0))]
    Refused(Refusal),
    /// The device speaks another schema.
    #[error("the device speaks schema {0}, which this fourplate cannot follow: update one of them")]
    Schema(u16),
    /// Over a network, and not paired.
    #[error("device {:016x} is not paired with this store, and over a network nobody else is believed: `fourplate lane pair` by its cable", .0.0)]
    NotPaired(DeviceId),
    /// Paired with another store.
    #[error("device {:016x} is paired with another store, which has its key", .0.0)]
    Locked(DeviceId),
    /// Asked to stop.
    #[error("stopped")]
    Stopped,
    /// What came could not be kept.
    #[error(transparent)]
    Session(#[from] SessionError<E>),
}

/// Why a device refuses.
#[must_use]
pub const fn why(refusal: &Refusal) -> &'static str {
    match refusal {
        Refusal::Schema => "it does not know our schema",
        Refusal::BadSettings => "the settings are out of range, the old ones stay",
        Refusal::NotStored => "it could not write the settings, the old ones stay",
        Refusal::Busy => "a cow is on the plates, or a calibration is under way",
        Refusal::NotPaired => "it is not paired: `fourplate lane pair` by its cable",
        Refusal::BadGate => "a gate cannot be driven so, or none is set; what was set before stays",
        Refusal::BadList => "the list is not whole, too long or over; the one before stays",
        Refusal::BadTable => "the table of cows makes no sense to it; the one before stays",
        Refusal::NewerTable => "the table of cows is of a newer form; the one before stays",
        Refusal::BadUpdate => {
            "the program is for another board, too long, or not as announced; what runs stays"
        }
    }
}

/// A connection with a device, and somebody who asks.
pub struct Operator<'stop, P, K> {
    port: P,
    session: Session<K>,
    clock: HostClock,
    stop: &'stop AtomicBool,
    answers: VecDeque<DeviceMessage>,
    points: Vec<ClockPoint>,
    boot: Option<u32>,
    kept: Kept,
}

impl<'stop, P: Port, K: Keeper> Operator<'stop, P, K> {
    /// Waits for the device's hello.
    ///
    /// # Errors
    /// Where none comes, or its schema cannot be followed.
    pub fn meet(
        port: P,
        line: Line,
        keeper: K,
        stop: &'stop AtomicBool,
    ) -> Result<Self, OperatorError<K::Error>> {
        let clock = HostClock::default();
        let session = Session::new(keeper, line, clock.now());
        let mut operator = Self {
            port,
            session,
            clock,
            stop,
            answers: VecDeque::new(),
            points: Vec::new(),
            boot: None,
            kept: Kept::default(),
        };
        let end = Instant::now() + HELLO_WAIT;
        while operator.session.device().is_none() {
            operator.turn(end)?;
        }
        Ok(operator)
    }

    /// The device, as it last said hello.
    #[must_use]
    pub const fn device(&self) -> Option<&DeviceHello> {
        self.session.device()
    }

    /// Whether the device is paired, and all it says is sealed.
    #[must_use]
    pub const fn is_sealed(&self) -> bool {
        self.session.is_sealed()
    }

    /// What the device delivered meanwhile.
    #[must_use]
    pub const fn kept(&self) -> Kept {
        self.kept
    }

    /// The comparisons of the clocks since the device's last boot.
    #[must_use]
    pub fn clock_points(&self) -> &[ClockPoint] {
        &self.points
    }

    /// Says something after which the device says hello anew, sealed or not.
    ///
    /// # Errors
    /// Where it does not.
    pub fn meet_again(
        &mut self,
        message: &HostMessage,
        sealed: bool,
        wait: Duration,
    ) -> Result<(), OperatorError<K::Error>> {
        let end = Instant::now() + wait;
        self.session.say(message);
        if !sealed {
            self.turn(end)?;
            self.session.forget();
        }
        while self.session.is_sealed() != sealed || self.session.device().is_none() {
            self.turn(end)?;
        }
        Ok(())
    }

    /// Says something and waits for what `wanted` takes for its answer. Says it again at the pace of `again`, where it
    /// may be said twice.
    ///
    /// # Errors
    /// Where the answer does not come in time, or the device refuses.
    pub fn ask<T>(
        &mut self,
        message: &HostMessage,
        wait: Duration,
        again: Option<Duration>,
        mut wanted: impl FnMut(&DeviceMessage) -> Option<T>,
    ) -> Result<T, OperatorError<K::Error>> {
        self.answers.clear();
        let (begin, mut said) = (Instant::now(), 0);
        loop {
            let due = again.map_or(u32::from(said == 0), |pace| {
                u32::try_from(begin.elapsed().as_millis() / pace.as_millis().max(1)).unwrap_or(u32::MAX) + 1
            });
            if said < due {
                self.session.say(message);
                said = due;
            }
            self.turn(begin + wait)?;
            while let Some(answer) = self.answers.pop_front() {
                if let Some(answer) = wanted(&answer) {
                    return Ok(answer);
                }
                if let DeviceMessage::Refused(refusal) = answer {
                    return Err(OperatorError::Refused(refusal));
                }
            }
        }
    }

    /// Hands on what comes for a while, or until `each` has enough.
    ///
    /// # Errors
    /// Where the connection is lost.
    pub fn hear(
        &mut self,
        wait: Duration,
        mut each: impl FnMut(&DeviceMessage) -> ControlFlow<()>,
    ) -> Result<(), OperatorError<K::Error>> {
        let end = Instant::now() + wait;
        loop {
            match self.turn(end) {
                Err(OperatorError::NoAnswer) => return Ok(()),
                other => other?,
            }
            while let Some(answer) = self.answers.pop_front() {
                if each(&answer).is_break() {
                    return Ok(());
                }
            }
        }
    }

    /// Ends the connection; what waits is given its best place.
    ///
    /// # Errors
    /// Where it could not be kept.
    pub fn end(mut self) -> Result<(), OperatorError<K::Error>> {
        // The line may be gone: what was said last is then said in vain.
        let _ = send(&mut self.port, &mut self.session);
        if let Some(device) = self.session.device().map(|hello| hello.device) {
            self.session.keeper().settle(device).map_err(SessionError::Keeper)?;
        }
        Ok(())
    }

    /// Reads once and does what is due.
    fn turn(&mut self, end: Instant) -> Result<(), OperatorError<K::Error>> {
        if self.stop.load(Ordering::Relaxed) {
            return Err(OperatorError::Stopped);
        }
        if Instant::now() >= end {
            return Err(OperatorError::NoAnswer);
        }
        match self.session.tick(self.clock.now()) {
            Err(SessionError::Silent) => return Err(OperatorError::Lost),
            other => other?,
        }
        send(&mut self.port, &mut self.session)?;
        let mut bytes = [0; 4096];
        match self.port.read(&mut bytes) {
            Ok(0) => return Err(OperatorError::Lost),
            Ok(length) => self.session.receive(&bytes[..length], self.clock.now())?,
            Err(error) if waits(&error) => {}
            Err(error) => return Err(error.into()),
        }
        for notice in self.session.take_notices() {
            match notice {
                Notice::Answer(answer) => self.answers.push_back(*answer),
                Notice::Kept(kept) => self.kept.add(&kept),
                Notice::Clock(point) => self.points.push(point),
                Notice::Schema { schema, .. } => return Err(OperatorError::Schema(schema)),
                Notice::NotPaired(device) => return Err(OperatorError::NotPaired(device)),
                Notice::Locked(device) => return Err(OperatorError::Locked(device)),
                Notice::Hello(hello) => {
                    // Points of another boot say nothing of this one.
                    let same = self.boot.replace(hello.boot) == Some(hello.boot);
                    if !same {
                        self.points.clear();
                    }
                }
                _ => {}
            }
        }
        Ok(())
    }
}
