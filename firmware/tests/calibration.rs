//! The guided calibration as a person meets it, over the link, with everything that can go wrong.

mod support;

use firmware::{
    calibration::{FORGET_AFTER_MS, MAX_CREEP_KG, MIN_WEIGHT_KG, PLATE_MAX_KG},
    fakes::SharedFlash,
    scale::NOBODY_STAYS_MS,
};
use shared::{
    analysis::calibration::INTERVAL_KG,
    plate::{PerPlate, Plate},
    units::Kilograms,
    wire::{
        CalibrationOutcome as Outcome, CalibrationReply, CalibrationStep as Step, DeviceMessage, HostMessage,
        Refusal, ResetCause, Settings,
    },
};
use support::Rig;

/// How much heavier the plates of the test weigh than the factory settings say.
const GAIN: f32 = 1.04;
const WEIGHT: Kilograms = Kilograms(200.0);

/// Says a step and waits for its answer.
fn step(rig: &mut Rig, step: Step) -> CalibrationReply {
    rig.heard.clear();
    rig.say(&HostMessage::Calibrate(step));
    rig.run(3_000);
    *rig.calibration().expect("an answer")
}

/// Puts a weight on a plate.
fn load(rig: &mut Rig, plate: Plate, weight: f32) {
    rig.deck.dead_load = PerPlate::default();
    rig.deck.dead_load[plate] = weight * GAIN;
}

fn known_weight(rig: &mut Rig, plate: Plate) -> Outcome {
    load(rig, plate, WEIGHT.0);
    step(rig, Step::KnownWeight { plate, weight: WEIGHT }).outcome
}

fn check(rig: &mut Rig, plate: Plate, weight: f32) -> Outcome {
    step(rig, Step::Check { plate, weight: Kilograms(weight) }).outcome
}

/// Everything up to the last step.
fn weighed(rig: &mut Rig) {
    rig.hello();
    assert_eq!(step(rig, Step::EmptyDeck).outcome, Outcome::Accepted);
    for plate in Plate::ALL {
        assert_eq!(known_weight(rig, plate), Outcome::Accepted, "{plate:?}");
    }
}

#[test]
fn a_whole_calibration_comes_into_force_and_weighs_right() {
    let mut rig = Rig::new(16, 1);
    weighed(&mut rig);
    load(&mut rig, Plate::LR, 300.0);
    assert_eq!(check(&mut rig, Plate::LR, 300.0), Outcome::Accepted);
    rig.deck.dead_load = PerPlate::default();
    assert_eq!(step(&mut rig, Step::Finish).outcome, Outcome::Accepted);
    assert!(rig.board.scale.wants_restart());
    rig.reboot(ResetCause::Software);
    rig.hello();
    rig.run(3_000);
    rig.heard.clear();
    rig.cow();
    let weight = rig.passages()[0].summary.body_weight.expect("she stood").value;
    // 600 kg by the factory settings.
    assert!((weight - 600.0 / GAIN).abs() < 1.0, "{weight}");
}

/// The device before a calibration, one with its own settings, and what they are.
fn set_device() -> (SharedFlash, Settings) {
    let mut rig = Rig::new(16, 2);
    let mut settings = firmware::settings::factory();
    settings.name = "old".try_into().expect("short");
    settings.zero = PerPlate([1_000, -2_000, 500, 0].map(shared::units::Counts));
    rig.say(&HostMessage::SetSettings(settings.clone()));
    rig.run(100);
    assert!(rig.heard.contains(&DeviceMessage::Settings(settings.clone())), "stored and told");
    (rig.board.flash.copy(), settings)
}

#[test]
fn a_power_cut_after_any_step_leaves_the_old_calibration() {
    let (flash, old) = set_device();
    for steps in 0..=5 {
        let mut rig = Rig::on(flash.copy(), 3);
        rig.hello();
        if steps > 0 {
            assert_eq!(step(&mut rig, Step::EmptyDeck).outcome, Outcome::Accepted);
        }
        for plate in Plate::ALL.into_iter().take(usize::max(steps, 1) - 1) {
            assert_eq!(known_weight(&mut rig, plate), Outcome::Accepted);
        }
        rig.deck.dead_load = PerPlate::default();
        rig.reboot(ResetCause::PowerOn);
        assert_eq!(*rig.board.scale.settings(), old, "after {steps} steps");
        // It weighs, and what was begun is forgotten.
        rig.hello();
        rig.cow();
        assert_eq!(rig.passages().len(), 1, "after {steps} steps");
        assert_eq!(step(&mut rig, Step::Finish).outcome, Outcome::OutOfOrder);
    }
}

#[test]
fn a_power_cut_while_a_step_looks_leaves_the_old_calibration() {
    let (flash, old) = set_device();
    for milliseconds in (0..2_000).step_by(190) {
        let mut rig = Rig::on(flash.copy(), 4);
        rig.hello();
        rig.say(&HostMessage::Calibrate(Step::EmptyDeck));
        rig.run(milliseconds);
        rig.reboot(ResetCause::PowerOn);
        assert_eq!(*rig.board.scale.settings(), old);
    }
}

#[test]
fn a_power_cut_at_any_byte_of_the_last_step_leaves_the_old_or_the_new() {
    let (flash, old) = set_device();
    let finish = |cut: Option<u32>| {
        let mut rig = Rig::on(flash.copy(), 5);
        weighed(&mut rig);
        rig.deck.dead_load = PerPlate::default();
        let before = rig.board.flash.used();
        if let Some(cut) = cut {
            rig.board.flash.die_after(cut);
        }
        let outcome = step(&mut rig, Step::Finish).outcome;
        rig.board.flash.revive();
        let cost = rig.board.flash.used() - before;
        rig.reboot(ResetCause::PowerOn);
        (outcome, rig.board.scale.settings().clone(), cost)
    };
    let (outcome, new, cost) = finish(None);
    assert_eq!(outcome, Outcome::Accepted);
    assert_ne!(new, old);
    assert_eq!(new.name, old.name);
    for cut in 0..cost {
        let (outcome, held, _) = finish(Some(cut));
        // Where the last byte was written but could not be read back, the device says no and holds the new one.
        assert!(held == old || (held == new && cut + 1 >= cost), "cut at {cut} of {cost}");
        assert_eq!(outcome, Outcome::NotStored, "cut at {cut} of {cost}");
    }
}

#[test]
fn what_is_not_right_is_refused_and_nothing_is_taken() {
    let mut rig = Rig::new(16, 6);
    rig.hello();
    let known = |plate, weight| Step::KnownWeight { plate, weight: Kilograms(weight) };
    assert_eq!(step(&mut rig, known(Plate::LF, 200.0)).outcome, Outcome::OutOfOrder, "no empty deck yet");
    assert_eq!(step(&mut rig, Step::Finish).outcome, Outcome::OutOfOrder);
    assert_eq!(step(&mut rig, Step::EmptyDeck).outcome, Outcome::Accepted);
    load(&mut rig, Plate::RF, 200.0);
    assert_eq!(step(&mut rig, known(Plate::LF, 200.0)).outcome, Outcome::WrongLoad, "on the wrong plate");
    for weight in [MIN_WEIGHT_KG - 1.0, PLATE_MAX_KG + 1.0, -5.0, f32::NAN, f32::INFINITY] {
        assert_eq!(step(&mut rig, known(Plate::RF, weight)).outcome, Outcome::WrongLoad, "{weight} kg");
    }
    rig.deck.saturated = true;
    assert_eq!(step(&mut rig, known(Plate::RF, 200.0)).outcome, Outcome::BadChannel);
    rig.deck.saturated = false;
    rig.silent = true;
    rig.heard.clear();
    rig.say(&HostMessage::Calibrate(known(Plate::RF, 200.0)));
    rig.run(8_000);
    assert_eq!(rig.calibration().expect("an answer").outcome, Outcome::BadChannel, "no readings");
    rig.silent = false;
    assert_eq!(step(&mut rig, Step::Finish).outcome, Outcome::OutOfOrder);
    rig.deck.dead_load = PerPlate::default();
    assert_eq!(step(&mut rig, Step::Abort).outcome, Outcome::Aborted);
    assert_eq!(*rig.board.scale.settings(), firmware::settings::factory());
    rig.run(5_000);
    rig.cow();
    assert_eq!(rig.passages().len(), 1, "it weighs again");
}

#[test]
fn a_person_who_moves_on_the_deck_is_not_taken_for_a_weight() {
    let mut rig = Rig::new(16, 7);
    rig.hello();
    assert_eq!(step(&mut rig, Step::EmptyDeck).outcome, Outcome::Accepted);
    rig.heard.clear();
    rig.say(&HostMessage::Calibrate(Step::KnownWeight { plate: Plate::LF, weight: Kilograms(80.0) }));
    for n in 0..600_u16 {
        let sway = (f32::from(n) * 0.05).sin();
        load(&mut rig, Plate::LF, 80.0 + 4.0 * sway);
        rig.run(support::PERIOD_MS);
    }
    assert_eq!(rig.calibration().expect("an answer").outcome, Outcome::NotSteady);
}

#[test]
fn with_a_cow_on_the_deck_it_is_refused() {
    let mut rig = Rig::on(set_device().0, 8);
    rig.hello();
    rig.run(2_000);
    rig.deck.cows.push(rig.now);
    rig.run(4_000);
    rig.say(&HostMessage::Calibrate(Step::EmptyDeck));
    rig.run(100);
    assert!(rig.heard.contains(&DeviceMessage::Refused(Refusal::Busy)));
    rig.say(&HostMessage::SetSettings(firmware::settings::factory()));
    rig.run(100);
    assert_eq!(rig.heard.iter().filter(|m| **m == DeviceMessage::Refused(Refusal::Busy)).count(), 2);
    rig.run(10_000);
    assert_eq!(rig.passages().len(), 1, "she is weighed");
}

#[test]
fn a_calibration_left_alone_is_forgotten_and_cows_are_weighed_again() {
    let mut rig = Rig::new(16, 9);
    rig.hello();
    assert_eq!(step(&mut rig, Step::EmptyDeck).outcome, Outcome::Accepted);
    rig.cow();
    assert_eq!(rig.passages().len(), 0, "a calibration is under way");
    // The converter has a pause, so that the hour costs the test nothing.
    rig.now += FORGET_AFTER_MS;
    rig.silent = true;
    rig.run(10);
    rig.silent = false;
    rig.run(5_000);
    rig.cow();
    assert_eq!(rig.passages().len(), 1);
}

/// Zero at switch-on: within 20 % of Max of the calibration in force (Canada SI/98-81 s. 41-43, as in OIML R 76).
#[test]
fn an_empty_deck_more_than_20_percent_of_max_off_is_not_empty() {
    let (flash, _) = set_device();
    for (part, outcome) in [(0.19, Outcome::Accepted), (0.21, Outcome::WrongLoad)] {
        let mut rig = Rig::on(flash.copy(), 14);
        rig.deck.dead_load[Plate::RF] = part * PLATE_MAX_KG;
        rig.run(NOBODY_STAYS_MS + 1_000);
        assert_eq!(step(&mut rig, Step::EmptyDeck).outcome, outcome, "{part} of Max");
    }
}

/// What plates and frames weigh is far above what a cow does before the zero is known.
#[test]
fn a_new_lane_can_be_calibrated_although_its_plates_weigh_as_much_as_a_cow() {
    let mut rig = Rig::new(16, 15);
    rig.deck.zero = PerPlate([410_000, 395_000, -380_000, 402_000]);
    rig.run(20_000);
    weighed(&mut rig);
    rig.deck.dead_load = PerPlate::default();
    assert_eq!(step(&mut rig, Step::Finish).outcome, Outcome::Accepted);
    rig.reboot(ResetCause::Software);
    rig.hello();
    rig.run(3_000);
    rig.heard.clear();
    rig.cow();
    let passages = rig.passages();
    let whole = passages.iter().find(|passage| passage.summary.quality.trusted()).expect("weighed");
    let weight = whole.summary.body_weight.expect("she stood").value;
    assert!((weight - 600.0 / GAIN).abs() < 1.0, "{weight}");
}

/// Eccentricity (OIML R 76-1 3.6.2; the rule as printed at indiankanoon.org doc 97401519): with up to four supports a
/// third of Max on each, and the limit of that load holds at every position.
#[test]
fn a_third_of_max_is_right_on_every_plate_and_a_bad_plate_is_found() {
    let mut rig = Rig::new(16, 10);
    weighed(&mut rig);
    let third = (PLATE_MAX_KG / 3.0).round();
    for plate in Plate::ALL {
        load(&mut rig, plate, third);
        assert_eq!(check(&mut rig, plate, third), Outcome::Accepted, "{plate:?}");
        // Class III, up to 500 intervals: half an interval.
        load(&mut rig, plate, third + 0.4 * INTERVAL_KG);
        assert_eq!(check(&mut rig, plate, third), Outcome::Accepted, "{plate:?}");
        load(&mut rig, plate, third + 0.6 * INTERVAL_KG);
        assert_eq!(check(&mut rig, plate, third), Outcome::BadResult, "{plate:?}");
    }
}

/// Creep (OIML R 76-1 3.9.4.1, from memory): half an interval between the first look and the one after 30 minutes.
#[test]
fn a_load_that_creeps_is_found_by_a_second_look() {
    for (crept, outcome) in
        [(0.6 * MAX_CREEP_KG, Outcome::Accepted), (1.4 * MAX_CREEP_KG, Outcome::BadResult)]
    {
        let mut rig = Rig::new(16, 11);
        weighed(&mut rig);
        load(&mut rig, Plate::RR, 300.0 - 0.4 * INTERVAL_KG);
        assert_eq!(check(&mut rig, Plate::RR, 300.0), Outcome::Accepted);
        rig.now += 30 * 60_000;
        load(&mut rig, Plate::RR, 300.0 - 0.4 * INTERVAL_KG + crept);
        assert_eq!(check(&mut rig, Plate::RR, 300.0), outcome, "{crept} kg more than before");
    }
}

/// Zero-setting (Canada SI/98-81 s. 41-43, as in OIML R 76): the zero is right to a quarter of an interval, and no
/// more than 4 % of Max is set to zero at once.
#[test]
fn zero_is_set_to_a_quarter_interval_and_no_further_than_4_percent_of_max() {
    let max = 4.0 * PLATE_MAX_KG;
    let (dirt, left_behind) = (0.035 * max, 0.045 * max);
    for (weight, set) in [(dirt, true), (left_behind, false)] {
        let mut rig = Rig::new(16, 12);
        rig.hello();
        rig.run(3_000);
        rig.deck.dead_load[Plate::LR] = weight;
        rig.run(130_000);
        let zero = rig.health().zero;
        let off = [0.0, 0.0, if set { weight } else { 0.0 }, 0.0];
        for (plate, off) in Plate::ALL.into_iter().zip(off) {
            // The factory zero is none: the deck's own is tracked from the start.
            let own = f32::from(i16::try_from(rig.deck.zero[plate]).expect("small"))
                * firmware::settings::NOMINAL_KG_PER_COUNT;
            let error = zero[plate].0 - own - off;
            assert!(error.abs() <= 0.25 * INTERVAL_KG, "{plate:?} with {weight} kg: {error}");
        }
    }
}

/// Zero-tracking (OIML R 76-1 4.5.7, from memory): at most half an interval a second.
#[test]
fn zero_is_tracked_no_faster_than_half_an_interval_a_second() {
    let mut rig = Rig::new(16, 13);
    rig.hello();
    rig.run(3_000);
    rig.deck.dead_load[Plate::LF] = 0.9;
    let mut zeros = Vec::new();
    for _ in 0..6 {
        rig.hello();
        rig.run(1_000);
        zeros.push(rig.health().zero[Plate::LF].0);
    }
    assert!(zeros.windows(2).all(|pair| (pair[1] - pair[0]).abs() <= 0.5 * INTERVAL_KG), "{zeros:?}");
    assert!(zeros[5] - zeros[0] > 0.2, "it does follow: {zeros:?}");
}
