//! How a lane is, in words: what its device says of itself, what that means, and what to do.

mod by_file;
pub mod calibration;
pub mod check;
pub mod check_text;
mod scored;

pub use by_file::{FileLane, file_lanes};

use crate::record::LaneDay;
use crate::record::finding::{LaneFault, RestartCause, Since, one_code};
use crate::score::kept;
use crate::store::{Device, KeptRows, ReaderOffset, Store, StoreError, WaitingItem};
use jiff::{SignedDuration, Timestamp, tz::TimeZone};
use serde::Serialize;
use shared::{
    plate::Plate,
    wire::{Decoded, DeviceId, DeviceMessage, Health, PlateState, ResetCause, decode},
};

/// How far back health messages are looked at, days; our choice.
pub const DAYS: i64 = 14;
/// Load on an empty plate worth cleaning away, kg; our choice: 1 % of a cow, at which the shares of her legs begin
/// to be off.
const DIRT_KG: f32 = 6.0;
/// SD of an empty plate that is too much, kg; our choice: as much as the load of a leg of a standing cow trembles.
const NOISE_KG: f32 = 1.0;
/// Readings lost that are worth a word, of those due; our choice.
const LOST_SHARE: f64 = 0.001;
/// Fall of the supply below its own median that is worth a word; our choice: a battery or a cable gives way.
const SUPPLY_FALL: f64 = 0.1;
/// Restarts without a cause from outside that are worth a word; our choice.
const RESTARTS: usize = 2;
/// Journal space in use that is worth a word, %; our choice.
const JOURNAL_PCT: u8 = 50;
/// A reader's clock that was off in the last so many days is spoken of; our choice.
const READER_DAYS: i64 = 2;
/// Drift of a crystal that is worth a word, ppm; our choice: twice the usual tolerance.
const DRIFT_PPM: f64 = 100.0;
/// A device that is silent this long is not listened to, hours; our choice.
const SILENT_HOURS: i64 = 1;
/// Frames of the host that reached the device broken worth a word; our choice.
const BROKEN_FRAMES: u32 = 100;

/// What a remark asks for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Urgency {
    /// Good to know.
    Note,
    /// Do it when next at the lane.
    Soon,
    /// Measurements are wrong or missing until it is done.
    Now,
}

impl Urgency {
    const fn of(self, fault: LaneFault) -> Remark {
        Remark { level: self, fault }
    }
}

/// One thing worth saying of a lane.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Remark {
    /// What it asks for.
    pub level: Urgency,
    /// What it is.
    #[serde(flatten, serialize_with = "one_code")]
    pub fault: LaneFault,
}

/// What is known of a lane.
#[derive(Clone, Debug)]
pub struct LaneReport {
    /// Its device.
    pub device: Device,
    /// What the device said of itself in the last [`DAYS`], with the times it was heard, UTC, ms since the Unix
    /// epoch; in order of time.
    pub health: Vec<(i64, Health)>,
    /// How fast the device's clock runs, ppm, and by how much that may be off.
    pub drift_ppm: Option<(f64, f64)>,
    /// Since when its items are refused, UTC, ms since the Unix epoch.
    pub refused_ms: Option<i64>,
    /// Passages and tag reads whose time is not known.
    pub untimed: usize,
    /// How far its tag reader's clock was off when last off, of late.
    pub reader: Option<ReaderOffset>,
    /// What the score found of the lane, by day.
    pub days: Vec<LaneDay>,
}

/// Every lane in the store.
///
/// # Errors
/// When the store cannot be read.
pub fn lanes(store: &Store, now: Timestamp) -> Result<Vec<LaneReport>, StoreError> {
    let from = now.as_millisecond() - DAYS * 86_400_000;
    let scored = kept::rows(store, None, KeptRows::Day)?.map(|(_, rows)| rows.lanes).unwrap_or_default();
    let readers = store.reader_offsets(now - SignedDuration::from_hours(24 * READER_DAYS), now)?;
    let of = |device: Device| {
        let lane = device.lane();
        let map = crate::link::ClockMap::of(store.clock_points(device.id, device.boot)?);
        Ok(LaneReport {
            health: store.health_since(device.id, from)?,
            drift_ppm: map.drift_ppm(),
            refused_ms: store.refused_since(device.id)?,
            untimed: untimed(store, device.id)?,
            reader: readers.get(&lane).copied(),
            days: scored.iter().filter(|day| day.lane == lane).cloned().collect(),
            device,
        })
    };
    store.devices()?.into_iter().map(of).collect()
}

/// How many passages and tag reads wait. Pieces of a trace alone are of no use to anybody: the power went before their
/// passage had ended.
fn untimed(store: &Store, device: DeviceId) -> Result<usize, StoreError> {
    let items = store.waiting_items(device)?;
    let waits = |item: &&WaitingItem| {
        matches!(
            decode(&item.payload),
            Decoded::Message(
                DeviceMessage::Passage(_) | DeviceMessage::TagRead(_) | DeviceMessage::GateEvent(_)
            )
        )
    };
    Ok(items.iter().filter(waits).count())
}

impl LaneReport {
    /// Everything worth saying, the most pressing first.
    #[must_use]
    pub fn remarks(&self, now: Timestamp, zone: &TimeZone) -> Vec<Remark> {
        let mut remarks = Vec::new();
        self.silence(now, zone, &mut remarks);
        if let Some(refused) = self.refused_ms {
            remarks.push(Urgency::Now.of(LaneFault::CountsAnew { since: since(refused, now, zone) }));
        }
        if let Some((_, latest)) = self.health.last() {
            for plate in Plate::ALL {
                self.plate(plate, latest, now, zone, &mut remarks);
            }
            self.losses(latest, &mut remarks);
            self.supply(latest, &mut remarks);
            self.restarts(now, zone, &mut remarks);
        }
        if let Some(offset) = self.reader {
            remarks.push(Urgency::Soon.of(LaneFault::Herd { remark: offset.remark() }));
        }
        self.scored(now, zone, &mut remarks);
        self.time(&mut remarks);
        remarks.sort_by_key(|remark| std::cmp::Reverse(remark.level));
        remarks
    }

    fn silence(&self, now: Timestamp, zone: &TimeZone, remarks: &mut Vec<Remark>) {
        let heard = self.device.heard_ms;
        if heard == 0 {
            remarks.push(Urgency::Note.of(LaneFault::CapturesOnly));
        } else if now.as_millisecond() - heard > SILENT_HOURS * 3_600_000 {
            remarks.push(Urgency::Now.of(LaneFault::Silent { since: since(heard, now, zone) }));
        }
    }

    fn plate(
        &self,
        plate: Plate,
        latest: &Health,
        now: Timestamp,
        zone: &TimeZone,
        remarks: &mut Vec<Remark>,
    ) {
        let from = |holds: &dyn Fn(&Health) -> bool| since(self.holds_since(holds), now, zone);
        let state = latest.plates[plate];
        if state != PlateState::Good {
            let since = from(&|health| health.plates[plate] == state);
            remarks.push(Urgency::Now.of(match state {
                PlateState::Saturated => LaneFault::PlateSaturated { plate, since },
                PlateState::Stuck => LaneFault::PlateStuck { plate, since },
                PlateState::Good | PlateState::Silent => LaneFault::PlateSilent { plate, since },
            }));
            return;
        }
        let zero = latest.zero[plate].0;
        if zero >= DIRT_KG {
            let since = from(&|health| health.zero[plate].0 >= DIRT_KG);
            remarks.push(Urgency::Soon.of(LaneFault::PlateDirty { plate, empty_kg: zero.into(), since }));
        } else if zero <= -DIRT_KG {
            let since = from(&|health| health.zero[plate].0 <= -DIRT_KG);
            let missing_kg = (-zero).into();
            remarks.push(Urgency::Soon.of(LaneFault::PlateProppedUp { plate, missing_kg, since }));
        }
        let noise = latest.noise[plate].0;
        if noise >= NOISE_KG {
            let since = from(&|health| health.noise[plate].0 >= NOISE_KG);
            remarks.push(Urgency::Soon.of(LaneFault::PlateNoisy { plate, noise_kg: noise.into(), since }));
        }
    }

    fn losses(&self, latest: &Health, remarks: &mut Vec<Remark>) {
        #[allow(clippy::cast_precision_loss, reason = "far below 2^53")]
        let due = latest.uptime.0 as f64 / 1000.0 * f64::from(self.device.rate_hz);
        let lost = f64::from(latest.lost_readings) / due.max(1.0);
        let mut say = |holds: bool, level: Urgency, fault| {
            if holds {
                remarks.push(level.of(fault));
            }
        };
        say(lost > LOST_SHARE, Urgency::Soon, LaneFault::ReadingsLost { lost_pct: 100.0 * lost });
        let count = latest.passages_dropped;
        say(count > 0, Urgency::Now, LaneFault::PassagesGivenUp { count });
        let (fill_pct, waiting) = (latest.journal_fill_pct, latest.journal_waiting);
        say(fill_pct >= JOURNAL_PCT, Urgency::Soon, LaneFault::JournalFills { fill_pct, waiting });
        let count = latest.traces_dropped;
        say(count > 0, Urgency::Note, LaneFault::TracesGivenUp { count });
        let count = latest.dropped_frames;
        say(count >= BROKEN_FRAMES, Urgency::Note, LaneFault::BrokenMessages { count });
        let count = latest.bad_tag_lines;
        say(count > 0, Urgency::Note, LaneFault::BadTagLines { count });
    }

    fn supply(&self, latest: &Health, remarks: &mut Vec<Remark>) {
        let mut usual: Vec<u16> = self.health.iter().filter_map(|(_, health)| health.supply_mv).collect();
        usual.sort_unstable();
        let (Some(now), Some(&usual)) = (latest.supply_mv, usual.get(usual.len() / 2)) else { return };
        if f64::from(now) < f64::from(usual) * (1.0 - SUPPLY_FALL) {
            let volts = |millivolts: u16| f64::from(millivolts) / 1000.0;
            remarks.push(Urgency::Soon.of(LaneFault::SupplyLow { now_v: volts(now), usual_v: volts(usual) }));
        }
    }

    fn restarts(&self, now: Timestamp, zone: &TimeZone, remarks: &mut Vec<Remark>) {
        let own = |cause| matches!(cause, ResetCause::Brownout | ResetCause::Watchdog | ResetCause::Panic);
        let boots: Vec<&(i64, Health)> = self
            .health
            .chunk_by(|(_, one), (_, next)| one.boot == next.boot)
            .filter_map(<[_]>::first)
            .filter(|(_, health)| own(health.reset))
            .collect();
        let (Some((first, _)), Some((_, last))) = (boots.first(), boots.last()) else { return };
        let cause = match last.reset {
            ResetCause::Brownout => RestartCause::Supply,
            ResetCause::Watchdog => RestartCause::Hung,
            _ => RestartCause::Broken,
        };
        let level = if boots.len() >= RESTARTS { Urgency::Soon } else { Urgency::Note };
        let fault = LaneFault::Restarted { times: boots.len(), since: since(*first, now, zone), cause };
        remarks.push(level.of(fault));
    }

    fn time(&self, remarks: &mut Vec<Remark>) {
        if let Some((drift_ppm, off)) = self.drift_ppm
            && drift_ppm.abs() - off > DRIFT_PPM
        {
            remarks.push(Urgency::Note.of(LaneFault::ClockDrift { drift_ppm }));
        }
        if self.untimed > 0 {
            remarks.push(Urgency::Note.of(LaneFault::Waiting { count: self.untimed }));
        }
    }

    /// When the state that holds now began, as far as is known, UTC, ms since the Unix epoch.
    fn holds_since(&self, holds: &dyn Fn(&Health) -> bool) -> i64 {
        let run = self.health.iter().rev().take_while(|(_, health)| holds(health));
        run.last().map_or(self.device.heard_ms, |(heard, _)| *heard)
    }
}

/// A past moment as people say it: the hour today, the day before that.
fn since(ms: i64, now: Timestamp, zone: &TimeZone) -> Since {
    let then = Timestamp::from_millisecond(ms).unwrap_or_default().to_zoned_datetime(zone.clone());
    let today = now.to_zoned_datetime(zone.clone()).date();
    let time = (then.date() == today).then(|| then.strftime("%H:%M").to_string());
    Since { date: then.date(), time }
}

#[cfg(test)]
mod tests;
