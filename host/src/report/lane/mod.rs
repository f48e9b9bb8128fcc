//! How a lane is, in words: what its device says of itself, what that means, and what to do.

mod scored;

use crate::record::LaneDay;
use crate::score::kept;
use crate::store::{Device, KeptRows, Store, StoreError, WaitingItem};
use jiff::{Timestamp, ToSpan, tz::TimeZone};
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
/// Drift of a crystal that is worth a word, ppm; our choice: twice the usual tolerance.
const DRIFT_PPM: f64 = 100.0;
/// A device that is silent this long is not listened to, hours; our choice.
const SILENT_HOURS: i64 = 1;
/// Frames of the host that reached the device broken worth a word; our choice.
const BROKEN_FRAMES: u32 = 100;

/// What a remark asks for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Level {
    /// Good to know.
    Note,
    /// Do it when next at the lane.
    Soon,
    /// Measurements are wrong or missing until it is done.
    Now,
}

/// One thing worth saying of a lane.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Remark {
    /// What it asks for.
    pub level: Level,
    /// The plate it is about, if one.
    pub plate: Option<&'static str>,
    /// In words.
    pub text: String,
}

/// What is known of a lane.
#[derive(Clone, Debug)]
pub struct Lane {
    /// Its device.
    pub device: Device,
    /// What the device said of itself in the last [`DAYS`], with the times it was heard, UTC, ms since the Unix
    /// epoch; in order of time.
    pub health: Vec<(i64, Health)>,
    /// How fast the device's clock runs, ppm, and by how much that may be off.
    pub drift_ppm: Option<(f64, f64)>,
    /// Passages and tag reads whose time is not known.
    pub untimed: usize,
    /// What the score found of the lane, by day.
    pub days: Vec<LaneDay>,
}

/// Every lane in the store.
///
/// # Errors
/// When the store cannot be read.
pub fn lanes(store: &Store, now: Timestamp) -> Result<Vec<Lane>, StoreError> {
    let from = now.as_millisecond() - DAYS * 86_400_000;
    let scored = kept::rows(store, None, KeptRows::Day)?.map(|(_, rows)| rows.lanes).unwrap_or_default();
    let of = |device: Device| {
        let lane = device.lane();
        let map = crate::link::ClockMap::of(store.clock_points(device.id, device.boot)?);
        Ok(Lane {
            health: store.health_since(device.id, from)?,
            drift_ppm: map.drift_ppm(),
            untimed: untimed(store, device.id)?,
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
            Decoded::Message(DeviceMessage::Passage(_) | DeviceMessage::TagRead(_))
        )
    };
    Ok(items.iter().filter(waits).count())
}

impl Lane {
    /// Everything worth saying, the most pressing first.
    #[must_use]
    pub fn remarks(&self, now: Timestamp, zone: &TimeZone) -> Vec<Remark> {
        let mut remarks = Vec::new();
        self.silence(now, zone, &mut remarks);
        if let Some((_, latest)) = self.health.last() {
            for plate in Plate::ALL {
                self.plate(plate, latest, now, zone, &mut remarks);
            }
            self.losses(latest, &mut remarks);
            self.supply(latest, &mut remarks);
            self.restarts(now, zone, &mut remarks);
        }
        self.scored(now, zone, &mut remarks);
        self.time(&mut remarks);
        remarks.sort_by_key(|remark| std::cmp::Reverse(remark.level));
        remarks
    }

    fn silence(&self, now: Timestamp, zone: &TimeZone, remarks: &mut Vec<Remark>) {
        let heard = self.device.heard_ms;
        if heard == 0 {
            remarks.push(note("known from captures only; never heard over a link"));
        } else if now.as_millisecond() - heard > SILENT_HOURS * 3_600_000 {
            let text = format!(
                "not heard {}: check that `fourplate listen` runs, then cable and power; the device keeps its \
                 passages meanwhile",
                since(heard, now, zone)
            );
            remarks.push(Remark { level: Level::Now, plate: None, text });
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
        let name = plate.name();
        let mut say = |level, text: String| remarks.push(Remark { level, plate: Some(name), text });
        let from = |holds: &dyn Fn(&Health) -> bool| since(self.holds_since(holds), now, zone);
        let state = latest.plates[plate];
        let what = match state {
            PlateState::Good => None,
            PlateState::Saturated => {
                Some("is at its end stop: take off what lies on it, then check cell and cable")
            }
            PlateState::Stuck => Some("gives the same reading all the time: check cell and cable"),
            PlateState::Silent => Some("gives no readings: check converter and cable"),
        };
        if let Some(what) = what {
            let from = from(&|health| health.plates[plate] == state);
            say(Level::Now, format!("plate {name} {what} ({from}); passages are not trusted"));
            return;
        }
        let zero = latest.zero[plate].0;
        if zero >= DIRT_KG {
            let from = from(&|health| health.zero[plate].0 >= DIRT_KG);
            let text = format!("plate {name} carries {zero:.1} kg empty ({from}): clean on and under it");
            say(Level::Soon, text);
        } else if zero <= -DIRT_KG {
            let from = from(&|health| health.zero[plate].0 <= -DIRT_KG);
            let text = format!(
                "plate {name} reads {:.1} kg too little empty ({from}): see that nothing props it up, then calibrate \
                 the empty deck",
                -zero
            );
            say(Level::Soon, text);
        }
        let noise = latest.noise[plate].0;
        if noise >= NOISE_KG {
            let from = from(&|health| health.noise[plate].0 >= NOISE_KG);
            let text = format!(
                "plate {name} trembles by {noise:.1} kg empty ({from}): look for rubbing, loose mounts, water in \
                 the junction box"
            );
            say(Level::Soon, text);
        }
    }

    fn losses(&self, latest: &Health, remarks: &mut Vec<Remark>) {
        let mut say = |level, text: String| remarks.push(Remark { level, plate: None, text });
        #[allow(clippy::cast_precision_loss, reason = "far below 2^53")]
        let due = latest.uptime.0 as f64 / 1000.0 * f64::from(self.device.rate_hz);
        let lost = f64::from(latest.lost_readings) / due.max(1.0);
        if lost > LOST_SHARE {
            let text = format!(
                "{:.1} % of the readings since its start are missing: check the converter",
                lost * 100.0
            );
            say(Level::Soon, text);
        }
        if latest.passages_dropped > 0 {
            let text = format!(
                "{} passages or tag reads were given up for lack of space before any host took them: listen more often",
                latest.passages_dropped
            );
            say(Level::Now, text);
        }
        if latest.journal_fill_pct >= JOURNAL_PCT {
            let text = format!(
                "its memory is {} % full with {} items to deliver: listen, or see why the link is slow",
                latest.journal_fill_pct, latest.journal_waiting
            );
            say(Level::Soon, text);
        }
        if latest.traces_dropped > 0 {
            say(
                Level::Note,
                format!("{} pieces of traces were given up for lack of space", latest.traces_dropped),
            );
        }
        if latest.dropped_frames >= BROKEN_FRAMES {
            let text = format!(
                "{} messages reached it broken since its start: check the cable",
                latest.dropped_frames
            );
            say(Level::Note, text);
        }
        if latest.bad_tag_lines > 0 {
            let text =
                format!("{} lines of the tag reader made no sense since its start", latest.bad_tag_lines);
            say(Level::Note, text);
        }
    }

    fn supply(&self, latest: &Health, remarks: &mut Vec<Remark>) {
        let mut usual: Vec<u16> = self.health.iter().filter_map(|(_, health)| health.supply_mv).collect();
        usual.sort_unstable();
        let (Some(now), Some(&usual)) = (latest.supply_mv, usual.get(usual.len() / 2)) else { return };
        if f64::from(now) < f64::from(usual) * (1.0 - SUPPLY_FALL) {
            let volts = |millivolts: u16| f64::from(millivolts) / 1000.0;
            let text = format!(
                "its supply is {:.1} V, usually {:.1} V: check battery, charger and cable",
                volts(now),
                volts(usual)
            );
            remarks.push(Remark { level: Level::Soon, plate: None, text });
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
        let (why, what) = match last.reset {
            ResetCause::Brownout => ("the supply dipped", "check power"),
            ResetCause::Watchdog => ("it hung", "tell the maker"),
            _ => ("its program found itself broken", "tell the maker"),
        };
        let level = if boots.len() >= RESTARTS { Level::Soon } else { Level::Note };
        let times = if boots.len() == 1 { "once".to_owned() } else { format!("{} times", boots.len()) };
        let text = format!("it restarted {times} {}, last because {why}: {what}", since(*first, now, zone));
        remarks.push(Remark { level, plate: None, text });
    }

    fn time(&self, remarks: &mut Vec<Remark>) {
        if let Some((drift, off)) = self.drift_ppm
            && drift.abs() - off > DRIFT_PPM
        {
            remarks.push(note(&format!("its clock runs {drift:+.0} ppm off; the link corrects for it")));
        }
        if self.untimed > 0 {
            let text =
                format!("{} items wait until their time, or the rest of their trace, is known", self.untimed);
            remarks.push(note(&text));
        }
    }

    /// When the state that holds now began, as far as is known, UTC, ms since the Unix epoch.
    fn holds_since(&self, holds: &dyn Fn(&Health) -> bool) -> i64 {
        let run = self.health.iter().rev().take_while(|(_, health)| holds(health));
        run.last().map_or(self.device.heard_ms, |(heard, _)| *heard)
    }
}

fn note(text: &str) -> Remark {
    Remark { level: Level::Note, plate: None, text: text.to_owned() }
}

/// A past moment as people say it: the hour today, the weekday within a week, the date before that.
fn since(ms: i64, now: Timestamp, zone: &TimeZone) -> String {
    let then = Timestamp::from_millisecond(ms).unwrap_or_default().to_zoned_datetime(zone.clone());
    let today = now.to_zoned_datetime(zone.clone()).date();
    if then.date() == today {
        return format!("since {}", then.strftime("%H:%M"));
    }
    let week_ago = today.checked_sub(6.days()).unwrap_or(today);
    if then.date() >= week_ago {
        format!("since {}", then.strftime("%A"))
    } else {
        format!("since {}", then.date())
    }
}

#[cfg(test)]
mod tests;
