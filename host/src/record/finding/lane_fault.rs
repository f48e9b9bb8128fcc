//! What is wrong with a lane, by its device and by the scores.

use crate::record::finding::LaneRemark;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use shared::plate::Plate;
use strum::VariantNames;

/// Since when something holds.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Since {
    /// The local day.
    pub date: Date,
    /// The local time, `14:05`, where the day is today.
    pub time: Option<String>,
}

/// Why a device started anew without anybody asking.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum RestartCause {
    /// The supply dipped.
    Supply,
    /// It hung.
    Hung,
    /// Its program found itself broken.
    Broken,
}

/// One thing wrong, or good to know.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, VariantNames)]
#[serde(rename_all = "snake_case")]
#[strum(serialize_all = "snake_case")]
#[allow(missing_docs, reason = "fields are what the variant says, with their units")]
pub enum LaneFault {
    /// Never heard over a link.
    CapturesOnly,
    /// Not heard.
    Silent { since: Since },
    /// Items came under keys that are known with other content: refused, and kept by the device.
    CountsAnew { since: Since },
    /// A plate is at its end stop.
    PlateSaturated { plate: Plate, since: Since },
    /// A plate gives the same reading all the time.
    PlateStuck { plate: Plate, since: Since },
    /// A plate gives no readings.
    PlateSilent { plate: Plate, since: Since },
    /// A plate carries load when empty.
    PlateDirty { plate: Plate, empty_kg: f64, since: Since },
    /// A plate reads too little when empty.
    PlateProppedUp { plate: Plate, missing_kg: f64, since: Since },
    /// A plate trembles when empty.
    PlateNoisy { plate: Plate, noise_kg: f64, since: Since },
    /// Readings are missing.
    ReadingsLost { lost_pct: f64 },
    /// Passages or tag reads were given up for lack of space.
    PassagesGivenUp { count: u32 },
    /// The journal fills.
    JournalFills { fill_pct: u8, waiting: u32 },
    /// Pieces of traces were given up for lack of space.
    TracesGivenUp { count: u32 },
    /// Messages reached the device broken.
    BrokenMessages { count: u32 },
    /// Lines of the tag reader made no sense.
    BadTagLines { count: u32 },
    /// The supply has fallen.
    SupplyLow { now_v: f64, usual_v: f64 },
    /// It started anew by itself.
    Restarted { times: usize, since: Since, cause: RestartCause },
    /// Its clock runs off.
    ClockDrift { drift_ppm: f64 },
    /// Items wait for their time, or for the rest of their trace.
    Waiting { count: usize },
    /// By what all cows show, a plate reads wrong.
    PlateOff { plate: Plate, error_pct: f64, since: Since },
    /// The same, and so do other lanes.
    PlateOrHerd { plate: Plate, error_pct: f64, since: Since },
    /// What else the score says of the lane.
    Herd { remark: LaneRemark },
}
