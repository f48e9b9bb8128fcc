//! The constants of the score, each with its source, and what a caller may set.

use crate::record::ObserverPrior;
use jiff::{civil::Date, tz::TimeZone};

// The lane's device judges by the same.
pub use shared::lane_score::judge::{FLAG_OFF, UNSETTLED_WIDER, URGENT_OFF, URGENT_ON};
pub use shared::lane_score::states::{
    LEVEL_POINTS, MOST_ODDS_A_PASSAGE, ONSET_LEVELS, PLACE_ONSET, SEVERE_LEVEL, TAIL_FREEDOM, UNSURE_EFFECT,
};

/// Share of cows a trained observer scores 2 or more: 22.8 % (Thomsen 2023, world mean).
pub const PREVALENCE: f64 = 0.228;
/// Chance a day that a sound cow falls ill: odds of the prevalence (0.295) over a stay of 130 days, itself from a median of
/// 65 days between the first lame score and treatment (Leach 2012) and 5 weeks of healing.
pub const ONSET_PER_DAY: f64 = 0.0023;
/// How severity goes on from day to day, left alone or after foot work.
#[derive(Clone, Copy, Debug)]
pub struct LevelRates {
    /// Chance a day that a sound cow falls ill.
    pub onset: f64,
    /// Chance a day to get one severity level worse.
    pub worse: f64,
    /// Chance a day to get one severity level better; from the lowest level, to be sound.
    pub better: f64,
    /// Chance a day to be sound at once from any level (an abscess is opened).
    pub cured: f64,
}
/// Left alone. Our choice: a slow ulcer takes weeks to get worse, and what is light goes as it came; lower rates of getting
/// better called more cows lame for weeks after they were sound.
pub const LEFT_ALONE: LevelRates =
    LevelRates { onset: ONSET_PER_DAY, worse: 0.06, better: 0.06, cured: 0.003 };
/// Trimmed within the unsettled days, a lesion treated within the healing days, or with a block on. Our choice; it makes
/// some half of the cows sound in five weeks, as 24 to 56 % were (Thomas 2015). A foot that was worked on may be hurt by it:
/// twice the usual onset, so that a severe loss after a trim of the herd is urgent within two days.
pub const TREATED: LevelRates =
    LevelRates { onset: 2.0 * ONSET_PER_DAY, worse: 0.02, better: 0.10, cured: 0.006 };
/// Chance a day that the trouble moves to another place. Our choice; 38 % of chronic cows end lame on the other hind
/// leg (Thomas 2016), over weeks.
pub const MOVED_PER_DAY: f64 = 0.001;

/// Points at which half of the cows are scored 2 or more: by as much the means of sound and lame cows differ (rear LWR
/// 0.87 and 0.78, Chapinal 2010).
pub const HALF_SCORED_POINTS: f64 = 5.0;
/// Width of that transition, in natural logarithms of the points. Our choice.
pub const HALF_SCORED_WIDTH: f64 = 0.20;
/// Chance that an observer scores a sound cow 2 or more. Our choice, from inter-observer kappa of 0.28-0.84
/// (Schlageter-Tello 2014).
pub const SOUND_SCORED: f64 = 0.004;
/// How the lame cows of a herd seen for the first time are spread over levels. Our choice.
pub const STANDING_LEVELS: [f64; 5] = [0.28, 0.28, 0.24, 0.14, 0.06];

/// Passages of a day that may add to that.
pub const MOST_PASSAGES_OF_ODDS: f64 = 2.0;
/// Weight of a day's evidence where days are independent: its measures are not. Our choice.
pub const EVIDENCE_WEIGHT: f64 = 0.8;
/// Huber's limit when the passages of one day are put together, in SD.
pub const HUBER_LIMIT: f64 = 1.5;

/// Within-cow SD of a walk-over weight: 17 kg (Alawneh 2011) of some 600 kg, as a fraction.
pub const WEIGHT_SD: f64 = 0.028;
/// A weight is not hers beyond this many SD ... our choice.
pub const WEIGHT_NOT_HERS_SD: f64 = 4.0;
/// ... and beyond this fraction. Our choice: gut, udder and mud stay below.
pub const WEIGHT_NOT_HERS_FRACTION: f64 = 0.09;
/// Root mean square of a passage's measures, in SD of the best-fitting state, beyond which the load pattern is not hers.
pub const PATTERN_NOT_HERS_SD: f64 = 3.5;
/// Days in a row of not-hers after which the tag is taken to be on a new animal and the baseline starts again.
pub const RESTART_DAYS: u32 = 14;

/// SD of what a block does to the split of its pair, in either direction, points: 12.17 points of the symmetry index
/// between the mean of sound cows without and with one (Pluss 2021) are 6.1 of the split, and cows differ by 7.9;
/// together sqrt(6.1^2 + 7.9^2). The case's model reads it alike (`case/before_after/learn.rs`).
pub const BLOCK_POINTS: f64 = 10.0;
/// Days after a trim or treatment that are not judged as settled: gait is worse directly after (Van Hertem 2014), and
/// on days 1 to 3 with a block (Cutler 2015). Our choice: a week.
pub const UNSETTLED_DAYS: i64 = 7;
/// The same after a lesion was found: lame cows' loads go on changing for five weeks after a trim (Chapinal 2010). Our
/// choice: two weeks, in which the trimmer's case judges the course.
pub const MENDING_DAYS: i64 = 14;
/// Days after a lesion was treated in which she heals faster than one left alone: a third to a half of lame cows were
/// sound on day 35 (Thomas 2015). Our choice: until then.
pub const HEALING_DAYS: i64 = 35;
/// A painful lesion is found in this part of the cows scored below 2, and 2 or more: 5.6, 20.1, 55.5, 79.9 and 100 % of
/// 53, 78, 164, 159 and 5 cows scored 1 to 5 (Bicalho 2007), 3 on that scale taken as 2 on ours.
pub const LESION_FOUND: [f64; 2] = [0.142, 0.680];

/// Needless looks per 100 cows a week that a farmer accepts where he has not said. Our choice.
pub const NEEDLESS_LOOKS: f64 = 1.0;
/// Trusted passages below which a cow cannot be called clear. Our choice: two days of two milkings.
pub const FEW_PASSAGES: u32 = 4;

/// EWMA weight and limit: the NIST handbook's example uses 0.3 and 3; 0.2 is our choice for slower onsets.
pub const EWMA_WEIGHT: f64 = 0.2;
/// EWMA limit in SD of the EWMA.
pub const EWMA_LIMIT: f64 = 3.0;
/// Lag-1 autocorrelation of a cow's daily measures, which widens the limit: 0.21 (Alawneh 2011, live weight).
pub const DAY_AUTOCORRELATION: f64 = 0.21;

/// Cows below which a plate's error cannot be told from the cows. Our choice.
pub const LANE_FEWEST_COWS: f64 = 5.0;
/// A plate's error is said from here, %. Our choice: twice the 0.44 % of a bench check, and more.
pub const LANE_SAID_PCT: f64 = 1.5;

/// What a caller may set.
#[derive(Clone, Debug, PartialEq)]
pub struct ScoreSettings {
    /// Last day of the table; the last day with a passage where `None`.
    pub until: Option<Date>,
    /// Days without a trusted passage after which a cow has `no_data`.
    pub unseen_days: u32,
    /// Whether the smoothed history is wanted too.
    pub history: bool,
    /// Needless looks accepted, per 100 cows a week.
    pub needless_looks: f64,
    /// The day from which the plates read right whatever they read before: a person has looked at them.
    pub plates_settled: Option<Date>,
    /// What is expected of the farm's observer before it has scored.
    pub observer: ObserverPrior,
    /// The farm's time zone, for the hours of its day.
    pub zone: TimeZone,
}

impl Default for ScoreSettings {
    fn default() -> Self {
        Self {
            until: None,
            unseen_days: 3,
            history: false,
            needless_looks: NEEDLESS_LOOKS,
            plates_settled: None,
            observer: ObserverPrior::default(),
            zone: TimeZone::UTC,
        }
    }
}
