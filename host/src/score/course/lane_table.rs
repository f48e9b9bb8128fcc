//! What is believed of each cow before a day's first passage, as a lane's device takes it: the evening's state after a night,
//! in the rows of `shared::lane_score`.

use crate::record::AnimalId;
use crate::score::course::engine::RunState;
use crate::score::course::flag::lane_flag;
use crate::score::course::track::{BASELINE_DAYS, Track};
use crate::score::evidence::foot_work::WorkStanding;
use crate::score::evidence::lane::LaneShift;
use crate::score::model::cow::Filter;
use crate::score::model::features::{CLASSES, Class, PerMeasure};
use crate::score::model::hypotheses::{Hypotheses, LEVELS, SOUND, STATES};
use crate::score::settings::{FEW_PASSAGES, ScoreSettings};
use shared::identity::AnimalCode;
use shared::lane_score::{CowRow, LaneFlag, MEASURES, OwnState, TABLE_VERSION, TableHead};
use shared::limits::{MAX_OWN_STATES, MAX_TABLE_ROWS};
use std::collections::BTreeMap;

/// A table for the device of one lane.
#[derive(Clone, Debug, PartialEq)]
pub struct LaneTable {
    /// What holds for every cow. Its name and its rows are set by who sends it.
    pub head: TableHead,
    /// The cows with a tag of 15 digits that can be judged, by rising tag.
    pub rows: Vec<CowRow>,
}

/// The tables of the lanes of a state, for the day after it; by lane. Cows of whom too little is known are in none, and where
/// there are more than fit, those likeliest sound are left out.
#[must_use]
pub fn lane_tables(
    mut state: RunState,
    tags: &BTreeMap<AnimalId, AnimalCode>,
    settings: &ScoreSettings,
) -> Vec<(String, LaneTable)> {
    let hypotheses = Hypotheses::new();
    let day = state.last() + 1;
    let herd = &state.herd;
    let limits = herd.price.limits(settings.needless_looks);
    state.tracks.iter_mut().for_each(|track| track.begin(day, &hypotheses, &herd.noise));
    let row = |track: &Track| track.lane_row(*tags.get(track.animal())?, day);
    let mut cows: Vec<(f64, CowRow)> = state.tracks.iter().filter_map(row).collect();
    cows.sort_by(|a, b| b.0.total_cmp(&a.0));
    cows.truncate(MAX_TABLE_ROWS);
    let mut rows: Vec<CowRow> = cows.into_iter().map(|cow| cow.1).collect();
    rows.sort_by_key(|row| row.code.bits());
    let scored: [f32; LEVELS + 1] = std::array::from_fn(|level| {
        let mut levels = [0.0; LEVELS + 1];
        levels[level] = 1.0;
        herd.learner.apply(&levels) as f32
    });
    let loads =
        |values: &dyn Fn(usize) -> f64| -> [f32; MEASURES] { std::array::from_fn(|k| values(k) as f32) };
    let table = |(name, lane): (&String, &LaneShift)| {
        let shift: PerMeasure = lane.shift();
        let head = TableHead {
            version: TABLE_VERSION,
            table: 0,
            rows: u16::try_from(rows.len()).unwrap_or(u16::MAX),
            variance: std::array::from_fn(|class| loads(&|k| herd.noise.variance(CLASSES_OF[class], k))),
            shift: loads(&|k| shift[k]),
            shift_variance: loads(&|k| lane.variance(k)),
            scored,
            watch: <[f64; 2]>::from(limits.watch).map(|limit| limit as f32),
            check: <[f64; 2]>::from(limits.check).map(|limit| limit as f32),
            weight: herd.noise.evidence_weight() as f32,
        };
        (name.clone(), LaneTable { head, rows: rows.clone() })
    };
    state.lane_names.iter().zip(&herd.lanes).map(table).collect()
}

/// The classes in the order of the table.
const CLASSES_OF: [Class; CLASSES] = [Class::Long, Class::Short, Class::Walk];

impl Track {
    /// Her row, and how likely she is lame; none where she cannot be judged by a single passage.
    fn lane_row(&self, code: AnimalCode, day: i64) -> Option<(f64, CowRow)> {
        let filter = self.filter().filter(|filter| filter.days_seen >= BASELINE_DAYS)?;
        if self.passages() < FEW_PASSAGES {
            return None;
        }
        let standing = WorkStanding::of(self.works(), day);
        let mut row = row_of(filter, code);
        row.flag = lane_flag(self.step());
        row.treated = standing.treated();
        row.unsettled = standing.fresh();
        Some((filter.lame(), row))
    }
}

/// The beliefs of a filter in the units of a row.
fn row_of(filter: &Filter, code: AnimalCode) -> CowRow {
    let sound = &filter.baseline[SOUND];
    let mut states: Vec<usize> = (0..STATES).filter(|state| *state != SOUND).collect();
    states.sort_by(|a, b| filter.probability[*b].total_cmp(&filter.probability[*a]));
    let sd = |variance: f64| byte(20.0 * variance.max(0.0).sqrt()).max(1);
    let own = states.into_iter().take(MAX_OWN_STATES).map(|state| {
        let hers = &filter.baseline[state];
        OwnState {
            state: state as u8,
            likely: likelihood(filter.probability[state]),
            usual: std::array::from_fn(|k| {
                (4.0 * (hers.mean[k] - sound.mean[k])).round().clamp(-128.0, 127.0) as i8
            }),
            usual_sd: std::array::from_fn(|k| sd(f64::from(hers.variance[k]))),
        }
    });
    CowRow {
        code,
        flag: LaneFlag::Clear,
        treated: false,
        unsettled: false,
        usual: std::array::from_fn(|k| (100.0 * sound.mean[k]).round().clamp(-32_768.0, 32_767.0) as i16),
        usual_sd: std::array::from_fn(|k| sd(f64::from(sound.variance[k]))),
        noise: std::array::from_fn(|k| byte(16.0 * filter.scale(k)).max(1)),
        sound: likelihood(filter.probability[SOUND]),
        states: own.collect(),
    }
}

fn byte(value: f64) -> u8 {
    value.round().clamp(0.0, 255.0) as u8
}

/// A probability as its byte: see `shared::lane_score::likely`.
fn likelihood(p: f64) -> u8 {
    byte(-16.0 * p.max(f64::MIN_POSITIVE).ln())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::score::model::baseline::Baseline;
    use crate::score::model::cow::tests::sound;
    use crate::score::model::features::MEASURES as ALL;

    // By hand: probabilities as -16 ln p, means in hundredths, differences in quarters, SD in twentieths; at least 1 where 0
    // would be sure.
    #[test]
    fn a_row_holds_the_likeliest_states_in_its_units() {
        let level = |mean: f64, variance: f64| Baseline::new(&[mean; ALL], &[variance; ALL]);
        let mut filter = sound(12.34, 4.0);
        (filter.probability[SOUND], filter.probability[9], filter.probability[4]) = (0.5, 0.3, 0.2);
        filter.baseline[9] = level(12.34 - 1.6, 0.0);
        filter.baseline[4] = level(12.34 + 50.0, 9.0);
        let row = row_of(&filter, AnimalCode::new(999, 1).expect("a tag"));
        assert_eq!((row.sound, row.usual, row.usual_sd), (11, [1234; MEASURES], [40; MEASURES]));
        assert_eq!(row.noise, [16; MEASURES]);
        let [first, second] = [row.states[0], row.states[1]];
        assert_eq!((first.state, first.likely, first.usual), (9, 19, [-6; MEASURES]));
        assert_eq!(first.usual_sd, [1; MEASURES]);
        assert_eq!((second.state, second.likely, second.usual), (4, 26, [127; MEASURES]));
        assert_eq!(second.usual_sd, [60; MEASURES]);
        assert_eq!(row.states.len(), MAX_OWN_STATES.min(STATES - 1));
        assert_eq!([byte(-1.0), byte(254.6), byte(300.0), likelihood(0.0)], [0, 255, 255, 255]);
    }
}
