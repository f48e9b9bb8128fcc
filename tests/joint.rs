//! Device and host together against bad input: whatever happens to the line, the power or the clocks, nothing that was
//! acknowledged is lost and nothing is stored twice.
//!
//! `cargo test -p tests --test joint -- --show-output` prints the figures.

#![allow(clippy::print_stdout, reason = "the figures are what it is run for")]

use host::record::Passage;
use host::report::words::{Language, Words};
use host::{
    link::Notice,
    store::{PassageFilter, Store},
};
use shared::{
    limits::MAX_FRAME_BYTES,
    plate::Plate,
    wire::{HostHello, HostMessage, PlateState, ResetCause, encode_frame},
};
use std::collections::BTreeMap;
use tests::joint::{Joint, START_UTC_MS};

/// What the format promises.
const UTC_MS: i64 = 50;

fn store() -> Store {
    Store::in_memory().expect("memory")
}

fn passages(store: &Store) -> Vec<Passage> {
    store.passages(&PassageFilter::default()).expect("readable")
}

/// National number and UTC, ms since the test began, of every tag in the store.
fn tags(store: &Store) -> Vec<(u64, i64)> {
    let lane = store.devices().expect("readable")[0].lane();
    let reads = store.tag_reads(&lane, i64::MIN, i64::MAX).expect("readable");
    reads
        .iter()
        .map(|read| {
            let national = read.animal.0.trim_start_matches("999").parse().expect("our own");
            (national, read.time.as_millisecond() - START_UTC_MS)
        })
        .collect()
}

/// By how much the tags in the store are off the true times of `truth`, ms. Every tag once, and no other.
fn utc_errors(store: &Store, truth: &BTreeMap<u64, u64>) -> Vec<i64> {
    let tags = tags(store);
    let found: Vec<u64> = tags.iter().map(|(national, _)| *national).collect();
    let mut expected: Vec<u64> = truth.keys().copied().collect();
    let mut sorted = found.clone();
    sorted.sort_unstable();
    expected.sort_unstable();
    assert_eq!(sorted, expected, "every tag once");
    tags.iter().map(|(national, at)| at - truth[national].cast_signed()).collect()
}

/// Everybody is there, in time, with her name, her weight and her whole trace.
fn assert_all_there(store: &Store, truth: &BTreeMap<u64, u64>) {
    let passages = passages(store);
    assert_eq!(passages.len(), truth.len(), "every passage once");
    for error in utc_errors(store, truth) {
        assert!(error.abs() <= UTC_MS, "{error} ms off");
    }
    for (passage, (national, at)) in passages.iter().zip(truth) {
        let came = (at + 1_000).cast_signed();
        let off = passage.time.as_millisecond() - START_UTC_MS - came;
        assert!(off.abs() <= UTC_MS, "cow {national}: {off} ms off");
        assert_eq!(passage.animal.as_ref().expect("named").0, format!("999{national:012}"));
        assert!(passage.summary.quality.trusted(), "{:?}", passage.summary);
        let weight = passage.summary.body_weight.expect("she stood").value;
        assert!((weight - 600.0).abs() < 1.0, "{weight} kg");
        assert!(store.trace(passage.id).expect("readable").is_some());
    }
}

#[test]
fn line_noise_of_one_percent_delays_and_loses_nothing() {
    let store = store();
    let mut joint = Joint::new(&store, 256, 1);
    let mut truth = BTreeMap::new();
    joint.trouble.noise = 0.01;
    joint.connect();
    for cow in 0..12 {
        truth.insert(cow, joint.cow(cow));
    }
    let waiting = joint.board.scale.journal().waiting();
    assert!(waiting > 100, "hardly anything gets through: {waiting}");
    // A bad cable.
    joint.trouble.noise = 0.000_2;
    for cow in 12..24 {
        truth.insert(cow, joint.cow(cow));
    }
    joint.trouble.noise = 0.0;
    joint.run(60_000);
    assert_eq!(joint.board.scale.journal().waiting(), 0);
    joint.disconnect();
    assert_all_there(&store, &truth);
}

#[test]
fn half_frames_at_both_ends_lose_nothing() {
    let store = store();
    let mut joint = Joint::new(&store, 256, 2);
    let mut truth = BTreeMap::new();
    for cow in 0..5 {
        truth.insert(cow, joint.cow(cow));
    }
    for _ in 0..60 {
        joint.connect();
        let length = joint.trouble.chance.between(5, 900).unsigned_abs();
        joint.run(length);
    }
    joint.connect();
    joint.run(30_000);
    assert_eq!(joint.board.scale.journal().waiting(), 0);
    joint.disconnect();
    assert_all_there(&store, &truth);
}

#[test]
fn a_host_of_another_schema_costs_nothing_but_time() {
    let store = store();
    let mut joint = Joint::new(&store, 64, 3);
    let mut truth = BTreeMap::new();
    for (cow, hello) in
        [HostHello { schema: 0, oldest: 0 }, HostHello { schema: 9, oldest: 9 }].into_iter().enumerate()
    {
        let mut frame = [0; MAX_FRAME_BYTES];
        let length = encode_frame(&HostMessage::Hello(hello), &mut frame).expect("fits");
        joint.put(frame[..length].to_vec());
        joint.run(2_000);
        truth.insert(cow as u64, joint.cow(cow as u64));
    }
    joint.connect();
    joint.run(20_000);
    joint.disconnect();
    assert_all_there(&store, &truth);
}

#[test]
fn a_host_clock_set_back_an_hour_loses_no_cow() {
    let store = store();
    let mut joint = Joint::new(&store, 256, 4);
    joint.host_off_ms = 3_600_000;
    joint.connect();
    joint.run(5_000);
    let mut early = Vec::new();
    for cow in 0..10 {
        early.push(joint.cow(cow));
        joint.quiet(50_000);
        joint.run(3_000);
    }
    // Set right; an hour later the first cows' wrong times come again.
    joint.host_off_ms = 0;
    joint.quiet(3_600_000 - (joint.now - early[0]) - 3_000);
    joint.run(3_000);
    let mut late = Vec::new();
    for cow in 10..20 {
        late.push(joint.cow(cow));
        joint.quiet(50_000);
        joint.run(3_000);
    }
    joint.run(10_000);
    joint.disconnect();
    let tags = tags(&store);
    assert_eq!(tags.len(), 20);
    for (national, at) in tags {
        let wrong = if national < 10 { 3_600_000 } else { 0 };
        let truth = if national < 10 { early[national as usize] } else { late[national as usize - 10] };
        let error = at - truth.cast_signed() - wrong;
        assert!(error.abs() <= UTC_MS, "cow {national}: {error} ms off the clock of then");
    }
    assert_eq!(passages(&store).len(), 20, "every cow once");
}

#[test]
fn a_dead_channel_is_named_to_the_farmer_and_no_passage_is_trusted() {
    let store = store();
    let mut joint = Joint::new(&store, 64, 5);
    joint.deck.dead = Some(Plate::RR);
    joint.connect();
    joint.run(3_000);
    for cow in 0..3 {
        joint.cow(cow);
    }
    joint.disconnect();
    assert!(remarks(&store, &joint)[0].starts_with("plate RR gives the same reading all the time"));
    assert!(!passages(&store).is_empty());
    assert!(passages(&store).iter().all(|passage| !passage.summary.quality.trusted()));
}

/// What `fourplate lane` says, the most pressing first.
fn remarks(store: &Store, joint: &Joint<'_>) -> Vec<String> {
    let now = jiff::Timestamp::from_millisecond(joint.host_now().utc_ms).expect("in range");
    let lanes = host::report::lane::lanes(store, now).expect("readable");
    let remarks = lanes[0].remarks(now, &jiff::tz::TimeZone::UTC);
    let words = Words::new(Language::English);
    remarks.into_iter().map(|remark| words.lane_fault(&remark.fault)).collect()
}

#[test]
fn four_saturated_channels_reach_the_farmer_as_words() {
    let store = store();
    let mut joint = Joint::new(&store, 64, 6);
    joint.connect();
    joint.run(3_000);
    joint.deck.cows = vec![joint.now];
    joint.run(5_000);
    joint.deck.saturated = true;
    joint.run(70_000);
    joint.disconnect();
    let said = remarks(&store, &joint);
    for plate in ["LF", "RF", "LR", "RR"] {
        assert!(
            said.iter().any(|text| text.starts_with(&format!("plate {plate} is at its end stop"))),
            "{said:?}"
        );
    }
    assert!(passages(&store).iter().all(|passage| !passage.summary.quality.trusted()));
}

#[test]
fn five_percent_lost_samples_are_said_and_cows_are_weighed_and_named() {
    let store = store();
    let mut joint = Joint::new(&store, 256, 7);
    let mut truth = BTreeMap::new();
    joint.lost = 0.05;
    joint.connect();
    joint.run(3_000);
    for cow in 0..10 {
        truth.insert(cow, joint.cow(cow));
    }
    joint.run(60_000);
    joint.disconnect();
    assert_all_there(&store, &truth);
    let said = remarks(&store, &joint);
    assert!(said.iter().any(|text| text.starts_with("5.") && text.contains("readings")), "{said:?}");
}

#[test]
fn tags_every_10_ms_leave_passages_whole_and_named() {
    let store = store();
    let mut joint = Joint::new(&store, 256, 8);
    joint.connect();
    joint.run(3_000);
    for cow in 0..10 {
        // She stands in the reader's field while she crosses.
        let begin = joint.now;
        joint.deck.cows = vec![begin + 1_000];
        while joint.now < begin + 8_000 {
            joint.tag(cow);
            joint.run(10);
        }
        joint.run(30_000);
    }
    // A reader that has gone wrong.
    for n in 0..1_000 {
        joint.tag(1_000 + n);
        joint.run(10);
    }
    joint.run(20_000);
    joint.disconnect();
    let passages = passages(&store);
    assert_eq!(passages.len(), 10);
    for (cow, passage) in passages.iter().enumerate() {
        assert_eq!(passage.animal.as_ref().expect("named").0, format!("999{cow:012}"));
        assert!(passage.summary.quality.trusted());
    }
    let tags = tags(&store);
    assert!((150..=10 * 9 + 110).contains(&tags.len()), "{} tag reads", tags.len());
}

/// 12 h without a host at one cow in 43 s. Between the cows no readings are made, to save time.
fn night(pages: usize) -> (Store, BTreeMap<u64, u64>, u32, u32) {
    let store = store();
    let mut joint = Joint::new(&store, pages, 9);
    joint.ppm = 60.0;
    joint.connect();
    joint.run(3_000);
    // The evening: the drift becomes known.
    joint.quiet(2 * 3_600_000);
    joint.disconnect();
    joint.run(3_000);
    let mut truth = BTreeMap::new();
    for cow in 0..1_000 {
        joint.run(1_500);
        truth.insert(cow, joint.cow(cow));
        joint.quiet(43_200 - 15_500);
    }
    let journal = joint.board.scale.journal();
    let dropped = (journal.traces_dropped(), journal.records_dropped());
    joint.connect();
    joint.quiet(600_000);
    assert_eq!(joint.board.scale.journal().waiting(), 0, "all delivered");
    let told = joint.notices.iter().rev().find_map(|notice| match notice {
        Notice::Health(health) => Some((health.traces_dropped, health.passages_dropped)),
        _ => None,
    });
    assert_eq!(told, Some(dropped), "the host is told the counts");
    joint.disconnect();
    (store, truth, dropped.0, dropped.1)
}

#[test]
fn a_thousand_cows_wait_twelve_hours_for_a_host_in_4_mib() {
    let (store, truth, traces, records) = night(1024);
    assert_eq!(records, 0);
    let errors = utc_errors(&store, &truth);
    let most = errors.iter().map(|error| error.abs()).max().expect("tags");
    let passages = passages(&store);
    assert_eq!(passages.len(), 1_000);
    assert!(passages.iter().all(|passage| passage.animal.is_some()));
    let with = with_traces(&store, &passages);
    println!(
        "12 h without a host, 4 MiB: 1,000 cows kept, the last {with} with traces, UTC within {most} ms"
    );
    assert!(most <= UTC_MS);
    assert!(traces < 2_500 && with > 800, "{traces} pieces of traces lost, {with} traces kept");
}

/// How many passages have their trace: the newest, for the oldest traces go first.
fn with_traces(store: &Store, passages: &[Passage]) -> usize {
    let has: Vec<bool> =
        passages.iter().map(|passage| store.trace(passage.id).expect("readable").is_some()).collect();
    assert!(has.is_sorted(), "the newest keep theirs");
    has.iter().filter(|has| **has).count()
}

#[test]
fn in_less_flash_the_oldest_traces_go_and_every_cow_stays() {
    let (store, truth, traces, records) = night(400);
    assert!(traces > 1_000 && records == 0, "{traces} traces, {records} records");
    assert_eq!(utc_errors(&store, &truth).len(), 1_000);
    let passages = passages(&store);
    assert_eq!(passages.len(), 1_000);
    let with = with_traces(&store, &passages);
    println!("12 h without a host, 1.6 MiB: 1,000 cows kept, the last {with} with traces");
    assert!((100..900).contains(&with), "{with}");
}

#[test]
fn in_too_little_flash_the_newest_cows_stay_and_the_lost_ones_are_counted() {
    let (store, truth, traces, records) = night(64);
    assert!(traces > 1_000 && records > 100, "{traces} traces, {records} records");
    let kept = tags(&store);
    let passages = passages(&store);
    println!(
        "12 h without a host, 256 KiB: {} cows kept, {records} passages and tags told as lost",
        passages.len()
    );
    assert_eq!(kept.len() + passages.len() + records as usize, 2 * truth.len(), "kept or counted");
    let oldest = kept.iter().map(|(national, _)| *national).min().expect("tags");
    assert_eq!(kept.len() as u64, 1_000 - oldest, "the newest");
    assert!(passages.len() > 100);
}

#[test]
fn power_cuts_at_any_moment_lose_only_the_cow_on_the_plates() {
    let store = store();
    let mut joint = Joint::new(&store, 64, 10);
    joint.connect();
    joint.run(3_000);
    let (mut kept, mut cut) = (Vec::new(), 0);
    for cow in 0..60 {
        let life = joint.trouble.chance.between(1, 12_000).unsigned_abs();
        if cow % 2 == 1 {
            joint.board.flash.die_after(u32::try_from(life).expect("small"));
        }
        let before = joint.board.flash.used();
        joint.cow(cow);
        if cow % 2 == 1 && u64::from(joint.board.flash.used() - before) >= life {
            joint.reboot(ResetCause::PowerOn);
            cut += 1;
        } else {
            joint.board.flash.revive();
            kept.push(cow);
        }
        joint.run(5_000);
    }
    joint.run(60_000);
    joint.disconnect();
    assert!(cut > 5, "{cut} power cuts");
    let passages = passages(&store);
    let named: Vec<u64> = passages
        .iter()
        .filter_map(|passage| passage.animal.as_ref())
        .map(|animal| animal.0.trim_start_matches("999").parse().expect("our own"))
        .collect();
    for cow in kept {
        assert_eq!(named.iter().filter(|other| **other == cow).count(), 1, "cow {cow}");
    }
    assert!(passages.len() <= 60, "nothing twice");
    // Pieces of the traces of cows that were cut off are no reason to speak.
    let said = remarks(&store, &joint);
    assert!(said.iter().all(|text| !text.contains("wait until")), "{said:?}");
}

#[test]
fn a_device_that_reports_a_state_is_believed_for_that_state_only() {
    let store = store();
    let mut joint = Joint::new(&store, 64, 11);
    joint.connect();
    joint.run(70_000);
    joint.reboot(ResetCause::Watchdog);
    joint.run(70_000);
    joint.disconnect();
    let said = remarks(&store, &joint);
    assert!(said.iter().any(|text| text.contains("restarted once") && text.contains("it hung")), "{said:?}");
    let last = joint.notices.iter().rev().find_map(|notice| match notice {
        Notice::Health(health) => Some(health),
        _ => None,
    });
    assert_eq!(last.expect("told").plates.0, [PlateState::Good; 4]);
}

/// UTC across drift, reboots and a line whose way takes from 1 to 40 ms, for two days.
#[test]
fn utc_is_right_to_50_ms_across_drift_reboots_and_jitter() {
    for ppm in [100.0, -100.0, 37.0] {
        let store = store();
        let mut joint = Joint::new(&store, 1024, 12);
        joint.ppm = ppm;
        joint.trouble.delay_ms = (1, 40);
        let mut truth = BTreeMap::new();
        joint.connect();
        for number in 0..480_u64 {
            // A tag each six minutes; the line is cut every five hours, for two; the device reboots every eleven.
            let pause = joint.trouble.chance.between(300_000, 420_000).unsigned_abs();
            joint.quiet(pause);
            truth.insert(number, joint.now);
            joint.tag(number);
            match number % 70 {
                50 => joint.disconnect(),
                0 => joint.connect(),
                _ => {}
            }
            if number % 110 == 33 {
                joint.reboot(ResetCause::PowerOn);
            }
        }
        joint.connect();
        joint.quiet(120_000);
        joint.disconnect();
        let errors = utc_errors(&store, &truth);
        let most = errors.iter().map(|error| error.abs()).max().expect("tags");
        let mean = errors.iter().map(|error| error.abs()).sum::<i64>() as f64 / errors.len() as f64;
        println!("{ppm} ppm: UTC within {most} ms, {mean:.1} ms on average, over {} tags", errors.len());
        assert!(most <= UTC_MS, "{most} ms");
    }
}
