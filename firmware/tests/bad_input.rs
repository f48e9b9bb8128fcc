//! What the device makes of bad input. What needs both ends stands in the workspace's `tests/joint`.

mod support;

use firmware::{
    fakes::{SharedFlash, code},
    scale::{TAG_REPEAT_MS, TAGS_A_SECOND},
};
use shared::{
    analysis::Reason,
    plate::Plate,
    units::Milliseconds,
    wire::{DeviceMessage, HostHello, HostMessage, PlateState, Refusal, ResetCause, SCHEMA, TimeRequest},
};
use support::{Rig, host_frame, tag_line};

#[test]
fn a_host_on_a_noisy_line_is_obeyed_only_in_what_it_said() {
    let mut rig = Rig::new(16, 1);
    let mut wanted = firmware::settings::factory();
    wanted.name = "noisy".try_into().expect("short");
    let frame = host_frame(&HostMessage::SetSettings(wanted.clone()));
    let (mut tries, mut told) = (0, 0);
    while told < 3 {
        assert!(tries < 50_000, "never got through");
        tries += 1;
        let mut bytes = frame.clone();
        rig.chance.flip(&mut bytes, 0.01);
        rig.board.port.put(&bytes);
        rig.run(support::PERIOD_MS);
        for message in rig.heard.drain(..) {
            if let DeviceMessage::Settings(settings) = message {
                assert_eq!(settings, wanted);
                told += 1;
            }
        }
    }
    rig.hello();
    rig.run(1_000);
    assert!(rig.health().dropped_frames > 100, "{}", rig.health().dropped_frames);
}

#[test]
fn half_a_frame_costs_itself_and_nothing_after_it() {
    let frame = host_frame(&HostMessage::GetSettings);
    for cut in 0..frame.len() {
        let mut rig = Rig::new(16, 2);
        rig.run(100);
        rig.board.port.put(&frame[..cut]);
        rig.run(100);
        // A sender begins with a zero.
        rig.board.port.put(&[0]);
        rig.say(&HostMessage::GetSettings);
        rig.run(100);
        let answers = rig.heard.iter().filter(|m| matches!(m, DeviceMessage::Settings(_))).count();
        assert_eq!(answers, 1, "cut after {cut}");
    }
}

#[test]
fn a_host_of_another_schema_is_refused_and_everything_waits() {
    for (schema, oldest) in [(0, 0), (SCHEMA + 5, SCHEMA + 1)] {
        let mut rig = Rig::new(16, 3);
        rig.say(&HostMessage::Hello(HostHello { schema, oldest }));
        rig.run(2_000);
        assert!(rig.heard.contains(&DeviceMessage::Refused(Refusal::Schema)), "{schema}");
        rig.cow();
        assert_eq!(rig.passages().len(), 0, "no item is sent");
        let waiting = rig.board.scale.journal().waiting();
        assert!(waiting > 2, "{waiting} items");
        // The host is brought up to date.
        rig.hello();
        rig.run(2_000);
        assert_eq!(rig.passages().len(), 1);
        assert_eq!(rig.board.scale.journal().waiting(), 0);
    }
}

#[test]
fn a_newer_host_that_still_knows_our_schema_is_served_and_its_new_words_are_skipped() {
    let mut rig = Rig::new(16, 4);
    rig.say(&HostMessage::Hello(HostHello { schema: SCHEMA + 7, oldest: SCHEMA }));
    let mut frame = [0; shared::limits::MAX_FRAME_BYTES];
    let length = shared::wire::frame::frame_payload(b"H\x63a kind to come", &mut frame).expect("fits");
    rig.board.port.put(&frame[..length]);
    rig.run(2_000);
    rig.cow();
    assert_eq!(rig.passages().len(), 1);
    assert_eq!(rig.board.scale.journal().waiting(), 0);
}

#[test]
fn a_host_clock_set_backwards_is_nothing_to_the_device() {
    let mut rig = Rig::new(16, 5);
    rig.hello();
    for host_sent_ms in [1_767_225_600_000, 1_000, -5, i64::MIN, 1_767_225_660_000] {
        rig.heard.clear();
        rig.say(&HostMessage::TimeRequest(TimeRequest { host_sent_ms, round_trip_ms: 4 }));
        rig.run(support::PERIOD_MS);
        let now = Milliseconds(rig.now);
        assert!(rig.heard.iter().any(|message| matches!(
            message,
            DeviceMessage::TimeReply(reply)
                if reply.host_sent_ms == host_sent_ms && (reply.received, reply.sent) == (now, now)
        )));
    }
}

/// Only readings that are played in can go back in time.
#[test]
fn readings_whose_clock_goes_back_end_the_passage_as_cut_off_and_the_next_is_whole() {
    let mut rig = Rig::new(16, 6);
    rig.hello();
    rig.now = 3_600_000;
    rig.run(3_000);
    rig.deck.cows.push(rig.now);
    rig.run(5_000);
    rig.now -= 3_600_000;
    rig.deck.cows.clear();
    rig.run(5_000);
    assert_eq!(rig.passages().len(), 1);
    assert!(rig.passages()[0].summary.quality.has(Reason::CutOff));
    rig.cow();
    assert_eq!(rig.passages().len(), 2);
    assert!(rig.passages()[1].summary.quality.trusted(), "{:?}", rig.passages()[1].summary);
}

#[test]
fn four_saturated_channels_are_told_and_no_passage_is_trusted() {
    let mut rig = Rig::new(16, 7);
    rig.hello();
    rig.run(3_000);
    rig.deck.cows.push(rig.now);
    rig.run(5_000);
    rig.deck.saturated = true;
    rig.run(2_000);
    rig.hello();
    rig.run(1_000);
    assert_eq!(rig.health().plates.0, [PlateState::Saturated; 4]);
    rig.deck.saturated = false;
    rig.run(120_000);
    assert!(rig.passages().iter().all(|p| !p.summary.quality.trusted()), "{:?}", rig.passages());
    assert!(rig.passages().iter().any(|p| p.summary.quality.has(Reason::Saturated)));
    let before = rig.passages().len();
    rig.cow();
    rig.cow();
    let last = rig.passages().pop().expect("weighed");
    assert_eq!(rig.passages().len(), before + 2);
    assert!(last.summary.quality.trusted(), "it has recovered: {:?}", last.summary);
    assert_eq!(rig.health().plates.0, [PlateState::Good; 4]);
}

#[test]
fn a_lane_that_is_saturated_for_ever_keeps_answering() {
    let mut rig = Rig::new(16, 8);
    rig.deck.saturated = true;
    rig.hello();
    rig.run(130_000);
    assert_eq!(rig.health().plates.0, [PlateState::Saturated; 4]);
    assert!(rig.passages().iter().all(|p| !p.summary.quality.trusted()));
}

#[test]
fn one_dead_channel_is_named_and_no_passage_is_trusted() {
    for plate in Plate::ALL {
        let mut rig = Rig::new(16, 9);
        rig.deck.dead = Some(plate);
        rig.hello();
        rig.run(3_000);
        rig.cow();
        let states = rig.health().plates;
        for other in Plate::ALL {
            let expected = if other == plate { PlateState::Stuck } else { PlateState::Good };
            assert_eq!(states[other], expected, "{plate:?} dead");
        }
        assert!(!rig.passages().is_empty());
        assert!(rig.passages().iter().all(|p| !p.summary.quality.trusted()), "{plate:?}");
    }
}

#[test]
fn a_converter_that_falls_silent_is_told() {
    let mut rig = Rig::new(16, 10);
    rig.hello();
    rig.run(3_000);
    rig.silent = true;
    rig.run(2_000);
    assert_eq!(rig.health().plates.0, [PlateState::Silent; 4]);
}

#[test]
fn five_percent_lost_samples_are_counted_and_cows_are_still_weighed() {
    let mut rig = Rig::new(16, 11);
    rig.lost = 0.05;
    rig.hello();
    rig.run(3_000);
    for _ in 0..10 {
        rig.cow();
    }
    rig.hello();
    rig.run(1_000);
    let due = rig.now / support::PERIOD_MS;
    let share = f64::from(rig.health().lost_readings) / due as f64;
    assert!((0.04..0.06).contains(&share), "{share}");
    assert_eq!(rig.passages().len(), 10);
    for passage in rig.passages() {
        let summary = passage.summary;
        assert!(summary.quality.trusted(), "{summary:?}");
        let missing = f64::from(summary.lost_readings) / f64::from(summary.readings + summary.lost_readings);
        assert!((0.02..0.09).contains(&missing), "{missing}");
        let weight = summary.body_weight.expect("she stood").value;
        assert!((weight - 600.0).abs() < 1.0, "{weight}");
    }
}

#[test]
fn the_same_tag_every_10_ms_is_one_read_a_second() {
    let mut rig = Rig::new(16, 12);
    rig.hello();
    rig.run(1_000);
    for n in 0..1_000 {
        if n % 2 == 0 {
            let now = Milliseconds(rig.now);
            tag_line(7).into_iter().for_each(|byte| rig.board.scale.tag_byte(now, byte));
        }
        rig.run(support::PERIOD_MS);
    }
    assert_eq!(rig.tags().len(), 5, "five seconds");
    let apart = |pair: &[&shared::wire::TagRead]| pair[1].time.since(pair[0].time).0 >= TAG_REPEAT_MS;
    assert!(rig.tags().windows(2).all(apart));
}

#[test]
fn another_tag_every_10_ms_fills_neither_journal_nor_line() {
    let mut rig = Rig::new(16, 13);
    rig.hello();
    rig.run(1_000);
    for n in 0..2_000 {
        if n % 2 == 0 {
            let now = Milliseconds(rig.now);
            tag_line(n).into_iter().for_each(|byte| rig.board.scale.tag_byte(now, byte));
        }
        rig.run(support::PERIOD_MS);
    }
    rig.run(3_000);
    let most = usize::from(TAGS_A_SECOND) * 11;
    assert!((most - 20..=most).contains(&rig.tags().len()), "{} tags", rig.tags().len());
    assert_eq!(rig.board.scale.journal().records_dropped(), 0);
    // The first cow of a second is always among them.
    assert_eq!(rig.tags()[0].code, code(0));
    rig.cow();
    assert_eq!(rig.passages().len(), 1);
}

#[test]
fn rubbish_from_the_tag_reader_is_counted_and_the_next_tag_is_read() {
    let mut rig = Rig::new(16, 14);
    rig.hello();
    rig.run(1_000);
    let mut bytes = rig.chance.bytes(20_000);
    bytes.extend(b"\r\n");
    bytes.extend(tag_line(42));
    let now = Milliseconds(rig.now);
    bytes.into_iter().for_each(|byte| rig.board.scale.tag_byte(now, byte));
    rig.hello();
    rig.run(2_000);
    assert!(rig.health().bad_tag_lines > 20, "{}", rig.health().bad_tag_lines);
    assert_eq!(rig.tags().last().expect("read").code, code(42));
}

#[test]
fn a_flash_that_fails_is_counted_and_the_lane_goes_on() {
    let mut rig = Rig::new(16, 15);
    rig.hello();
    rig.run(3_000);
    rig.board.flash.die_after(0);
    rig.cow();
    rig.board.flash.revive();
    rig.hello();
    rig.run(1_000);
    assert!(rig.health().passages_dropped > 0);
    rig.cow();
    assert_eq!(rig.passages().len(), 1, "the cow after it");
}

#[test]
fn the_reason_of_a_reset_is_told() {
    let mut rig = Rig::on(SharedFlash::new(16), 16);
    rig.reboot(ResetCause::Brownout);
    rig.hello();
    rig.run(1_000);
    assert_eq!((rig.health().reset, rig.health().boot), (ResetCause::Brownout, 2));
}
