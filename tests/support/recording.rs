//! Some milkings of an invented herd, as the device's converters and tag reader give them.

use demo::{
    herd::{Herd, Settings},
    lane::{Lane, Sink, Truth},
};
use firmware::{
    load_cells::{BOTTOM_CODE, TOP_CODE},
    settings::{DEFAULT_RATE_HZ, NOMINAL_KG_PER_COUNT},
};
use shared::{plate::PerPlate, units::Milliseconds};

/// The device's clock at the first reading, ms.
const FIRST_MS: i64 = 1_000;

/// What comes to the device.
#[derive(Clone, Debug)]
pub enum Event {
    /// A reading.
    Reading(Milliseconds, PerPlate<i32>),
    /// A line of the tag reader.
    Tag(Milliseconds, Vec<u8>),
}

impl Event {
    /// The same, later by so many ms.
    #[must_use]
    pub fn later(&self, by: u64) -> Self {
        let later = |time: &Milliseconds| Milliseconds(time.0 + by);
        match self {
            Self::Reading(time, counts) => Self::Reading(later(time), *counts),
            Self::Tag(time, line) => Self::Tag(later(time), line.clone()),
        }
    }

    /// When, on the device's clock.
    #[must_use]
    pub const fn time(&self) -> Milliseconds {
        match self {
            Self::Reading(time, _) | Self::Tag(time, _) => *time,
        }
    }
}

/// What came, and what truly happened.
pub struct Recording {
    /// In the order of time.
    pub events: Vec<Event>,
    /// First foot on and last foot off of each passage, on the device's clock, ms.
    pub spans: Vec<(u64, u64)>,
}

struct Gather {
    origin: Option<i64>,
    events: Vec<Event>,
}

impl Gather {
    fn clock(&mut self, millis: i64) -> Milliseconds {
        let origin = *self.origin.get_or_insert(millis - FIRST_MS);
        Milliseconds(u64::try_from(millis - origin).unwrap_or(0))
    }
}

impl Sink for Gather {
    fn reading(&mut self, millis: i64, loads: &PerPlate<f64>) -> anyhow::Result<()> {
        let code =
            |kg: f64| ((kg / f64::from(NOMINAL_KG_PER_COUNT)).round() as i32).clamp(BOTTOM_CODE, TOP_CODE);
        let time = self.clock(millis);
        self.events.push(Event::Reading(time, PerPlate(loads.0.map(code))));
        Ok(())
    }

    fn tag(&mut self, millis: i64, animal_id: &str) -> anyhow::Result<()> {
        let time = self.clock(millis);
        self.events.push(Event::Tag(time, format!("{animal_id}\r\n").into_bytes()));
        Ok(())
    }
}

impl Recording {
    /// The first milkings of a herd, at the rate of a device that was never set.
    ///
    /// # Panics
    /// Where the herd cannot be made.
    #[must_use]
    pub fn of(cows: u32, milkings: usize, seed: u64) -> Self {
        let settings = Settings { rate_hz: f64::from(DEFAULT_RATE_HZ), ..Settings::new(cows, 1, seed) };
        // Without the hosing, which takes as long as several cows.
        let herd = Herd::new(Settings { hosing_s: 0.0, ..settings });
        let mut gather = Gather { origin: None, events: Vec::new() };
        let mut lane = Lane::new(&herd);
        let mut truths: Vec<Truth> = Vec::new();
        for milking in 0..milkings {
            truths
                .extend(lane.milking(&herd, milking, |_, _, _| None, &mut gather).expect("nothing can fail"));
        }
        let spans = truths.iter().map(|truth| (gather.clock(truth.span.0).0, gather.clock(truth.span.1).0));
        let spans = spans.collect();
        gather.events.sort_by_key(Event::time);
        // The board stamps a tag with the lane's clock, which follows the readings.
        let mut clock = None;
        gather.events.retain_mut(|event| match event {
            Event::Reading(time, _) => clock.replace(*time).is_none_or(|before| before < *time),
            Event::Tag(time, _) => clock.is_some_and(|clock| {
                *time = clock;
                true
            }),
        });
        Self { events: gather.events, spans }
    }

    /// How many of the events are readings.
    #[must_use]
    pub fn readings(&self) -> usize {
        self.events.iter().filter(|event| matches!(event, Event::Reading(..))).count()
    }
}

/// A recording in two parts, the second with a clock that starts anew, as after a reset.
#[must_use]
pub fn cut(events: &[Event], at: u64) -> (Vec<Event>, Vec<Event>) {
    let (before, after) = events.split_at(events.partition_point(|event| event.time().0 < at));
    let after = after.iter().map(|event| {
        let time = Milliseconds(event.time().0 - at + 1_000);
        match event {
            Event::Reading(_, counts) => Event::Reading(time, *counts),
            Event::Tag(_, line) => Event::Tag(time, line.clone()),
        }
    });
    (before.to_vec(), after.collect())
}
