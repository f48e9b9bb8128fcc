//! A checksum of the model itself: rows kept by another model are not read. No one has to remember to raise a number.

use crc::{CRC_32_ISCSI, Crc};

/// The sources that decide what a row holds.
const SOURCES: &[(&str, &str)] = &[
    ("chain.rs", include_str!("chain.rs")),
    ("charts.rs", include_str!("charts.rs")),
    ("cow.rs", include_str!("cow.rs")),
    ("engine.rs", include_str!("engine.rs")),
    ("features.rs", include_str!("features.rs")),
    ("flag.rs", include_str!("flag.rs")),
    ("foot_work.rs", include_str!("foot_work.rs")),
    ("hypotheses.rs", include_str!("hypotheses.rs")),
    ("identity.rs", include_str!("identity.rs")),
    ("index.rs", include_str!("index.rs")),
    ("kept.rs", include_str!("kept.rs")),
    ("lane.rs", include_str!("lane.rs")),
    ("level.rs", include_str!("level.rs")),
    ("link.rs", include_str!("link.rs")),
    ("mod.rs", include_str!("mod.rs")),
    ("noise.rs", include_str!("noise.rs")),
    ("prior.rs", include_str!("prior.rs")),
    ("rates.rs", include_str!("rates.rs")),
    ("reasons.rs", include_str!("reasons.rs")),
    ("settings.rs", include_str!("settings.rs")),
    ("track.rs", include_str!("track.rs")),
    ("history.rs", include_str!("history.rs")),
    ("../case/versions.rs", include_str!("../case/versions.rs")),
    ("../case/block.rs", include_str!("../case/block.rs")),
    ("../herd.rs", include_str!("../herd.rs")),
    ("summary.rs", include_str!("../../../shared/src/analysis/summary.rs")),
    ("quality.rs", include_str!("../../../shared/src/analysis/quality.rs")),
];

/// The checksum.
#[must_use]
pub fn checksum() -> u32 {
    let crc = Crc::<u32>::new(&CRC_32_ISCSI);
    let mut digest = crc.digest();
    SOURCES.iter().for_each(|(_, text)| digest.update(text.as_bytes()));
    digest.finalize()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Read or tested only: no row depends on these.
    const LEFT_OUT: [&str; 6] =
        ["comparison.rs", "model.rs", "simulate.rs", "speed.rs", "table.rs", "tests.rs"];

    #[test]
    fn every_source_of_the_model_counts() {
        let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/src/score");
        for entry in std::fs::read_dir(folder).unwrap() {
            let name = entry.unwrap().file_name().into_string().unwrap();
            if !name.ends_with(".rs") {
                continue;
            }
            let counted = SOURCES.iter().any(|(known, _)| *known == name);
            assert!(counted != LEFT_OUT.contains(&name.as_str()), "{name}");
        }
    }
}
