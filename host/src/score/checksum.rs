//! A checksum of the model itself: rows kept by another model are not read. No one has to remember to raise a number.

use crc::{CRC_32_ISCSI, Crc};

/// The sources that decide what a row holds; `tests/layers_of_host.rs` finds them from the imports.
const SOURCES: &[(&str, &str)] = &[
    ("arithmetic/dates.rs", include_str!("../arithmetic/dates.rs")),
    ("arithmetic/statistics.rs", include_str!("../arithmetic/statistics.rs")),
    ("record/animal.rs", include_str!("../record/animal.rs")),
    ("record/case/block.rs", include_str!("../record/case/block.rs")),
    ("record/case/field.rs", include_str!("../record/case/field.rs")),
    ("record/case/history.rs", include_str!("../record/case/history.rs")),
    ("record/case/lesion.rs", include_str!("../record/case/lesion.rs")),
    ("record/case/mod.rs", include_str!("../record/case/mod.rs")),
    ("record/case/versions.rs", include_str!("../record/case/versions.rs")),
    ("record/case/zone.rs", include_str!("../record/case/zone.rs")),
    ("record/day.rs", include_str!("../record/day.rs")),
    ("record/finding/day.rs", include_str!("../record/finding/day.rs")),
    ("record/finding/lane.rs", include_str!("../record/finding/lane.rs")),
    ("record/foot_work.rs", include_str!("../record/foot_work.rs")),
    ("record/lane_day.rs", include_str!("../record/lane_day.rs")),
    ("record/observer_prior.rs", include_str!("../record/observer_prior.rs")),
    ("record/passage.rs", include_str!("../record/passage.rs")),
    ("score/course/engine.rs", include_str!("course/engine.rs")),
    ("score/course/flag.rs", include_str!("course/flag.rs")),
    ("score/course/herd.rs", include_str!("course/herd.rs")),
    ("score/course/history.rs", include_str!("course/history.rs")),
    ("score/course/lane_table.rs", include_str!("course/lane_table.rs")),
    ("score/course/mod.rs", include_str!("course/mod.rs")),
    ("score/course/price.rs", include_str!("course/price.rs")),
    ("score/course/reasons.rs", include_str!("course/reasons.rs")),
    ("score/course/steps.rs", include_str!("course/steps.rs")),
    ("score/course/swapped.rs", include_str!("course/swapped.rs")),
    ("score/course/track/mod.rs", include_str!("course/track/mod.rs")),
    ("score/course/track/row.rs", include_str!("course/track/row.rs")),
    ("score/course/track/teach.rs", include_str!("course/track/teach.rs")),
    ("score/evidence/anchor.rs", include_str!("evidence/anchor.rs")),
    ("score/evidence/charts.rs", include_str!("evidence/charts.rs")),
    ("score/evidence/foot_work.rs", include_str!("evidence/foot_work.rs")),
    ("score/evidence/identity.rs", include_str!("evidence/identity.rs")),
    ("score/evidence/index.rs", include_str!("evidence/index.rs")),
    ("score/evidence/lane.rs", include_str!("evidence/lane.rs")),
    ("score/evidence/plates.rs", include_str!("evidence/plates.rs")),
    ("score/kept.rs", include_str!("kept.rs")),
    ("score/kept/stretches.rs", include_str!("kept/stretches.rs")),
    ("score/mod.rs", include_str!("mod.rs")),
    ("score/model/baseline.rs", include_str!("model/baseline.rs")),
    ("score/model/chain.rs", include_str!("model/chain.rs")),
    ("score/model/cow.rs", include_str!("model/cow.rs")),
    ("score/model/features.rs", include_str!("model/features.rs")),
    ("score/model/hypotheses.rs", include_str!("model/hypotheses.rs")),
    ("score/model/level.rs", include_str!("model/level.rs")),
    ("score/model/noise.rs", include_str!("model/noise.rs")),
    ("score/model/observer.rs", include_str!("model/observer.rs")),
    ("score/model/prior.rs", include_str!("model/prior.rs")),
    ("score/model/rates.rs", include_str!("model/rates.rs")),
    ("score/model/ways.rs", include_str!("model/ways.rs")),
    ("score/settings.rs", include_str!("settings.rs")),
    ("shared/analysis/summary.rs", include_str!("../../../shared/src/analysis/summary.rs")),
    ("shared/lane_score/judge.rs", include_str!("../../../shared/src/lane_score/judge.rs")),
    ("shared/lane_score/measures.rs", include_str!("../../../shared/src/lane_score/measures.rs")),
    ("shared/lane_score/states.rs", include_str!("../../../shared/src/lane_score/states.rs")),
    ("shared/analysis/quality.rs", include_str!("../../../shared/src/analysis/quality.rs")),
];

/// The checksum.
#[must_use]
pub fn checksum() -> u32 {
    let crc = Crc::<u32>::new(&CRC_32_ISCSI);
    let mut digest = crc.digest();
    SOURCES.iter().for_each(|(_, text)| digest.update(text.as_bytes()));
    digest.finalize()
}
