//! What the device says and when: hello, items in flight, traces, raw readings, health.

mod support;

use firmware::{
    fakes::{Board, FakePort, SharedFlash},
    health::{HEALTH_EVERY_MS, Vitals},
    link::{RESEND_AFTER_MS, WINDOW},
    scale::HELLO_EVERY_MS,
    trace::TRACE_HZ,
};
use shared::{
    units::Counts,
    wire::{DeviceMessage, HostMessage, Passage, ResetCause, TraceChunk, TraceDecoder},
};
use support::{PERIOD_MS, Rig, sequence, tag_line};

fn count(rig: &Rig, wanted: impl Fn(&DeviceMessage) -> bool) -> usize {
    rig.heard.iter().filter(|message| wanted(message)).count()
}

fn chunks<'r>(rig: &'r Rig, passage: &Passage) -> Vec<&'r TraceChunk> {
    rig.heard
        .iter()
        .filter_map(|message| match message {
            DeviceMessage::TraceChunk(chunk) if chunk.passage == passage.passage => Some(chunk),
            _ => None,
        })
        .collect()
}

/// Lets so many tags be read, more than a second apart.
fn tags(rig: &mut Rig, number: u64) {
    for national in 0..number {
        let moment = rig.moment();
        tag_line(national).into_iter().for_each(|byte| rig.board.scale.tag_byte(moment.clock, byte));
        rig.run(1_000);
    }
}

#[test]
fn hello_goes_out_until_a_host_answers() {
    let mut rig = Rig::new(16, 1);
    rig.run(4 * HELLO_EVERY_MS + 100);
    assert_eq!(count(&rig, |m| matches!(m, DeviceMessage::Hello(_))), 5);
    rig.heard.clear();
    rig.hello();
    rig.run(4 * HELLO_EVERY_MS);
    assert_eq!(count(&rig, |m| matches!(m, DeviceMessage::Hello(_))), 1, "the answer");
}

#[test]
fn a_few_items_are_in_flight_and_come_again_until_the_host_is_given_up() {
    let mut rig = Rig::new(16, 2);
    rig.acknowledges = false;
    tags(&mut rig, 12);
    rig.heard.clear();
    rig.hello();
    rig.run(RESEND_AFTER_MS - 100);
    let sent: Vec<u32> = rig.heard.iter().filter_map(sequence).collect();
    assert_eq!(sent.len(), WINDOW, "in flight");
    assert!(sent.windows(2).all(|pair| pair[0] < pair[1]));
    // One of them arrived; the rest comes again, from the first missing one.
    rig.say(&HostMessage::Acknowledge { first: sent[0], last: sent[0] });
    rig.heard.clear();
    rig.run(RESEND_AFTER_MS + 100);
    let again: Vec<u32> = rig.heard.iter().filter_map(sequence).collect();
    assert_eq!(again[0], sent[WINDOW - 1] + 1, "the place that became free");
    assert_eq!(again[1..], [&sent[1..], &again[..1]].concat());
    rig.run(10 * RESEND_AFTER_MS);
    rig.heard.clear();
    rig.run(10 * RESEND_AFTER_MS);
    assert_eq!(count(&rig, |m| sequence(m).is_some()), 0, "the host is believed gone");
    assert!(count(&rig, |m| matches!(m, DeviceMessage::Hello(_))) > 4, "and is called");
    rig.acknowledges = true;
    rig.hello();
    rig.run(2_000);
    assert_eq!(rig.board.scale.journal().waiting(), 0);
    assert_eq!(count(&rig, |m| matches!(m, DeviceMessage::TagRead(_))), 11);
}

#[test]
fn a_slow_port_holds_up_neither_the_plates_nor_the_frames() {
    let mut rig = Rig::new(16, 3);
    // 4 bytes in 5 ms: 8,000 baud.
    rig.board = Board::boot(SharedFlash::new(16), FakePort::new(4), ResetCause::PowerOn).expect("boots");
    rig.hello();
    rig.run(3_000);
    rig.cow();
    rig.run(20_000);
    let passage = rig.passages()[0].clone();
    assert_eq!(chunks(&rig, &passage).len(), usize::from(passage.trace_chunks));
    assert_eq!(passage.summary.lost_readings, 0);
}

#[test]
fn a_trace_comes_whole_at_50_hz_in_chunks_that_stand_alone() {
    let mut rig = Rig::new(16, 4);
    rig.hello();
    rig.run(3_000);
    rig.cow();
    let passage = rig.passages()[0].clone();
    let chunks = chunks(&rig, &passage);
    assert_eq!(chunks.len(), usize::from(passage.trace_chunks));
    let (mut samples, mut bytes) = (Vec::new(), 0);
    for (n, chunk) in chunks.iter().enumerate() {
        assert_eq!(usize::from(chunk.chunk), n);
        bytes += chunk.data.len();
        samples.extend(TraceDecoder::new(&chunk.data).map(|sample| sample.expect("whole")));
    }
    assert!(samples.windows(2).all(|pair| pair[1].time.0 - pair[0].time.0 == 1_000 / u64::from(TRACE_HZ)));
    let (first, last) = (samples[0].time, samples[samples.len() - 1].time);
    let (start, end) = (passage.summary.start.0, passage.summary.start.0 + passage.summary.duration.0);
    assert!(first.0 <= start + 500 && last.0 + 500 >= end, "{first:?} to {last:?} of {start} to {end}");
    let heaviest = samples.iter().map(|sample| sample.values.0.iter().sum::<i32>()).max().expect("samples");
    assert!((5_900..6_400).contains(&heaviest), "{heaviest} tenths of a kg");
    // The budget of the format: 2.2 bytes a channel a sample.
    assert!(bytes as f64 <= 2.2 * 4.0 * samples.len() as f64, "{bytes} bytes, {} samples", samples.len());
}

#[test]
fn raw_readings_come_as_the_converter_gave_them_for_as_long_as_asked() {
    let mut rig = Rig::new(16, 5);
    rig.run(1_000);
    rig.heard.clear();
    rig.say(&HostMessage::StreamRaw { seconds: 2 });
    let mut same = rig.deck.clone();
    rig.run(3_000);
    let (mut samples, mut index) = (Vec::new(), 0);
    for message in &rig.heard {
        let DeviceMessage::RawReadings(raw) = message else { continue };
        assert_eq!(raw.index, index, "none left out");
        index += 1;
        samples.extend(TraceDecoder::new(&raw.data).map(|sample| sample.expect("whole")));
    }
    // The reading during which the request came in is not among them.
    let _ = same.sample(1_000 + PERIOD_MS);
    assert_eq!(samples.len() as u64, 2_000 / PERIOD_MS - 1);
    for sample in &samples {
        assert_eq!(sample.values.0.map(Counts), same.sample(sample.time.0).counts.0);
    }
}

#[test]
fn raw_readings_that_the_link_cannot_take_are_left_out_and_the_gap_is_told() {
    let mut rig = Rig::new(16, 6);
    rig.board = Board::boot(SharedFlash::new(16), FakePort::new(4), ResetCause::PowerOn).expect("boots");
    rig.say(&HostMessage::StreamRaw { seconds: 20 });
    rig.run(30_000);
    let indices: Vec<u32> = rig
        .heard
        .iter()
        .filter_map(|message| match message {
            DeviceMessage::RawReadings(raw) => Some(raw.index),
            _ => None,
        })
        .collect();
    assert!(indices.len() > 10, "{indices:?}");
    assert!(indices.windows(2).all(|pair| pair[0] < pair[1]));
    assert!(indices.windows(2).any(|pair| pair[1] > pair[0] + 1), "nothing was left out: {indices:?}");
}

#[test]
fn streaming_stops_when_told_to() {
    let mut rig = Rig::new(16, 7);
    rig.say(&HostMessage::StreamRaw { seconds: 60 });
    rig.run(1_000);
    rig.say(&HostMessage::StreamRaw { seconds: 0 });
    rig.run(100);
    rig.heard.clear();
    rig.run(2_000);
    assert_eq!(count(&rig, |m| matches!(m, DeviceMessage::RawReadings(_))), 0);
}

#[test]
fn health_comes_every_minute_with_what_the_board_measured() {
    let mut rig = Rig::new(16, 8);
    let vitals = Vitals { supply_mv: Some(12_250), temperature_dc: Some(-35), stack_high_water: 2_222 };
    rig.board.scale.vitals(vitals);
    rig.hello();
    rig.run(3 * HEALTH_EVERY_MS + 1_000);
    assert_eq!(count(&rig, |m| matches!(m, DeviceMessage::Health(_))), 4, "after hello and each minute");
    let health = rig.health();
    assert_eq!(health.supply_mv, vitals.supply_mv);
    assert_eq!(health.temperature_dc, vitals.temperature_dc);
    assert_eq!(health.stack_high_water, vitals.stack_high_water);
    assert_eq!((health.lost_readings, health.passages_dropped), (0, 0));
    assert!(health.noise.0.iter().all(|noise| (0.02..0.1).contains(&noise.0)), "{:?}", health.noise);
}
