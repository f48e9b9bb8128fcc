//! Invented tables of cows, as a lane's device takes them.

use firmware::fakes::head;
use shared::{
    identity::AnimalCode,
    lane_score::{CowRow, LaneFlag, TableHead},
};

/// A cow who stands square, as well as `usual_sd` twentieths of a point are known, and is not lame, as far as `sound` says.
#[must_use]
pub fn square(code: AnimalCode, front_share: i16, usual_sd: u8, sound: u8) -> CowRow {
    CowRow {
        code,
        flag: LaneFlag::Clear,
        treated: false,
        unsettled: false,
        usual: [0, 0, front_share, 0, 0, front_share],
        usual_sd: [usual_sd; 6],
        noise: [16; 6],
        sound,
        states: [].into_iter().collect(),
    }
}

/// The table of these cows.
///
/// # Panics
/// Where there are more than can be counted.
#[must_use]
pub fn table(mut rows: Vec<CowRow>) -> (TableHead, Vec<CowRow>) {
    rows.sort_by_key(|row| row.code.bits());
    let head = TableHead {
        scored: [0.004, 0.25, 0.9, 0.99, 1.0, 1.0],
        watch: [0.2, 0.13],
        weight: 0.5,
        ..head(1, u16::try_from(rows.len()).expect("few"))
    };
    (head, rows)
}
