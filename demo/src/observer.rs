//! The invented observer: a monthly round of mobility scores, given by a person who errs as people do.

use crate::course::SCORE_LIMITS;
use crate::herd::Herd;
use crate::random::Random;

/// SD of an observer's error in severity. Two observers with it agree with a weighted kappa of about 0.6: Gardenier
/// 2021, 0.59 on four levels; Schlageter-Tello 2014, 0.28 to 0.84.
pub const OBSERVER_SD: f64 = 0.38;
/// Day of the first round, and days between rounds ("ideally at least once a month").
const ROUND: (i32, usize) = (6, 28);

/// The score an observer gives for a severity.
pub fn observe(severity: f64, random: &mut Random) -> u8 {
    let seen = severity + random.normal(0.0, OBSERVER_SD);
    SCORE_LIMITS.iter().filter(|limit| seen >= **limit).count() as u8
}

/// Every score of every round: day, cow, score.
#[must_use]
pub fn rounds(herd: &Herd) -> Vec<(i32, usize, u8)> {
    let mut scores = Vec::new();
    for day in (ROUND.0..herd.settings.days as i32).step_by(ROUND.1) {
        let random = &mut Random::new(herd.settings.seed, "observer", day as u64);
        for (i, member) in herd.members.iter().enumerate() {
            let sore = member.cow.course.severity(f64::from(day) + 0.5);
            let score = observe(sore.0.iter().copied().fold(0.0, f64::max), random);
            if member.cow.lactation(day).is_some() {
                scores.push((day, i, score));
            }
        }
    }
    scores
}
