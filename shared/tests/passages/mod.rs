//! Whole passages.

use crate::support::{Cow, SOUND, Trace, analysed, one};
use shared::analysis::PassageKind;

#[test]
fn ramps_onto_all_plates_are_a_stance() {
    let trace = Trace::new(100.0)
        .empty(2.0)
        .ramp(0.5, [160.0, 150.0, 140.0, 150.0])
        .hold(5.0, [160.0, 150.0, 140.0, 150.0])
        .ramp(0.5, [0.0; 4])
        .empty(2.0)
        .noisy(0.5, 1);
    let passage = one(&trace);
    assert_eq!(passage.kind, PassageKind::Stance, "{passage:#?}");
    assert!(passage.quality.trusted(), "{passage:#?}");
    println!("{passage:#?}");
}

#[test]
fn walk() {
    let passage = analysed(&SOUND.crosses(100.0).noisy(0.5, 1));
    println!("{passage:#?}");
    let passage = analysed(&Cow { stand: 5.0, ..SOUND }.crosses(100.0).noisy(0.5, 1));
    println!("{passage:#?}");
}
