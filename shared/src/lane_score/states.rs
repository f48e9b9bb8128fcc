//! What may be the matter with a cow, and how it shows in the splits of her loads.

use super::measures::MEASURES;

/// Severity levels: load a sore leg gives to the other leg of its pair, in points of the pair's load. Our choice of
/// grid; published means lie at 5 points between sound and lame (rear LWR 0.87 to 0.78, Chapinal 2010) and far above
/// 20 with a claw lesion (Pluss 2021).
pub const LEVEL_POINTS: [f64; LEVELS] = [4.0, 8.0, 14.0, 24.0, 42.0];
/// How many levels there are.
pub const LEVELS: usize = 5;
/// Level from which lameness is severe.
pub const SEVERE_LEVEL: usize = 3;
/// Places that may be sore: LF, RF, LR, RR, both front, both rear.
pub const PLACES: usize = 6;
/// States: sound, and every place at every level.
pub const STATES: usize = 1 + PLACES * LEVELS;
/// How new cases are spread over the places: four of five are hind (our choice); both legs of a pair, seldom.
pub const PLACE_ONSET: [f64; PLACES] = [0.10, 0.10, 0.36, 0.36, 0.02, 0.06];
/// How a new case begins, by level. Our choice: mostly mild, some at once (abscess).
pub const ONSET_LEVELS: [f64; LEVELS] = [0.45, 0.25, 0.15, 0.10, 0.05];

/// Effect on each measure for each point of load moved, and the SD of that effect between cows.
pub type LoadEffect = [(f64, f64); MEASURES];

/// One hind leg, the left (the right one mirrors the splits). Standing: load goes to the other hind leg, the front stays
/// (Neveux 2006). Walking: the peak of the sore leg falls (Dyer 2011); half the standing effect is our choice.
const HIND: LoadEffect = [(0.0, 0.10), (1.0, 0.20), (0.03, 0.10), (0.0, 0.10), (0.5, 0.35), (0.05, 0.10)];
/// One front leg, the left: load goes to the other front leg and the hind leg of the same side (Neveux 2006).
const FRONT: LoadEffect =
    [(1.0, 0.20), (-0.20, 0.25), (-0.10, 0.12), (0.5, 0.35), (-0.05, 0.15), (-0.05, 0.10)];
/// Both hind legs: only a little weight can be moved to the front (Neveux 2006). Our choice of size: a level is as bad as
/// the same level on one leg.
const BOTH_HIND: LoadEffect =
    [(0.0, 0.10), (0.0, 0.25), (0.30, 0.20), (0.0, 0.10), (0.0, 0.20), (0.25, 0.20)];
/// Both front legs, as the hind ones.
const BOTH_FRONT: LoadEffect =
    [(0.0, 0.25), (0.0, 0.15), (-0.30, 0.20), (0.0, 0.20), (0.0, 0.10), (-0.25, 0.20)];

/// The measures that change sign with the side: the splits.
pub const MIRRORED: [bool; MEASURES] = [true, true, false, true, true, false];

/// A place's effect, and 1 or, for the right leg of a pair, -1 for its splits.
pub const OF_PLACE: [(LoadEffect, f64); PLACES] =
    [(FRONT, 1.0), (FRONT, -1.0), (HIND, 1.0), (HIND, -1.0), (BOTH_FRONT, 1.0), (BOTH_HIND, 1.0)];

/// The measures that must show where a place is sore: standing and walking load of its own pair, or of front and rear. All
/// else often does.
pub const MUST_SHOW: [[bool; MEASURES]; PLACES] = {
    let (front, rear, share) = (
        [true, false, false, true, false, false],
        [false, true, false, false, true, false],
        [false, false, true, false, false, true],
    );
    [front, front, rear, rear, share, share]
};

/// What an effect that need not show costs where it does: squared odds of 20 to 1. Our choice.
pub const UNSURE_EFFECT: f64 = 400.0;
/// The most that one passage may change the odds between two states: a factor of 40. Our choice: one odd passage
/// (a slip, a fly, a turned head) must not flip a cow.
pub const MOST_ODDS_A_PASSAGE: f64 = 40.0;
/// Degrees of freedom of the Student-t errors of a measure. Our choice (heavy tails).
pub const TAIL_FREEDOM: i32 = 8;

/// Place and level of a state; `None` for sound.
#[must_use]
pub const fn parts(state: usize) -> Option<(usize, usize)> {
    if state == 0 || state >= STATES { None } else { Some(((state - 1) / LEVELS, (state - 1) % LEVELS)) }
}

/// Effect on each measure for each point of load moved, and the SD of that effect, in f32 for the device.
pub const EFFECT: [[(f32, f32); MEASURES]; PLACES] = effects();
/// The levels in f32.
#[allow(clippy::cast_possible_truncation, reason = "small constants")]
pub const POINTS: [f32; LEVELS] = {
    let mut points = [0.0; LEVELS];
    let mut level = 0;
    while level < LEVELS {
        points[level] = LEVEL_POINTS[level] as f32;
        level += 1;
    }
    points
};

/// How likely a new case begins in each place at each level.
#[allow(clippy::cast_possible_truncation, reason = "small constants")]
pub const ONSET: [[f32; LEVELS]; PLACES] = {
    let mut all = [[0.0; LEVELS]; PLACES];
    let mut place = 0;
    while place < PLACES {
        let mut level = 0;
        while level < LEVELS {
            all[place][level] = (PLACE_ONSET[place] * ONSET_LEVELS[level]) as f32;
            level += 1;
        }
        place += 1;
    }
    all
};

#[allow(clippy::cast_possible_truncation, reason = "small constants")]
const fn effects() -> [[(f32, f32); MEASURES]; PLACES] {
    let mut all = [[(0.0, 0.0); MEASURES]; PLACES];
    let mut place = 0;
    while place < PLACES {
        let (table, side) = OF_PLACE[place];
        let mut measure = 0;
        while measure < MEASURES {
            let (mean, sd) = table[measure];
            let side = if MIRRORED[measure] { side } else { 1.0 };
            all[place][measure] = ((side * mean) as f32, sd as f32);
            measure += 1;
        }
        place += 1;
    }
    all
}
