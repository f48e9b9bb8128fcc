//! Lanes with one trouble each, and what is said of it.

use crate::link::fake_device::hello;
use crate::report::lane::*;
use crate::report::words::{Language, Words};
use shared::{
    plate::PerPlate,
    units::{Kilograms, Milliseconds},
    wire::DeviceId,
};

/// Thursday 8 January 2026, 12:00 UTC.
const NOW_MS: i64 = 1_767_873_600_000;
const DAY_MS: i64 = 86_400_000;

fn health(boot: u32, uptime_s: u64) -> Health {
    Health {
        boot,
        uptime: Milliseconds(uptime_s * 1000),
        reset: ResetCause::PowerOn,
        supply_mv: Some(12_000),
        temperature_dc: None,
        lost_readings: 0,
        dropped_frames: 0,
        bad_tag_lines: 0,
        stack_high_water: 2_000,
        journal_fill_pct: 1,
        journal_waiting: 0,
        traces_dropped: 0,
        passages_dropped: 0,
        zero: PerPlate([Kilograms(0.2); 4]),
        noise: PerPlate([Kilograms(0.1); 4]),
        plates: PerPlate([PlateState::Good; 4]),
    }
}

/// A lane heard once a day for ten days, the last time just now.
pub fn lane(change: impl Fn(i64, &mut Health)) -> LaneReport {
    let device = Device {
        id: DeviceId(1),
        name: "East".to_owned(),
        firmware: "0.1.0".to_owned(),
        rate_hz: 100,
        boot: 1,
        waiting: 0,
        heard_ms: NOW_MS,
    };
    let health = (0..10).rev().map(|ago| {
        let mut health = health(1, u64::try_from(10 - ago).unwrap() * 86_400);
        change(ago, &mut health);
        (NOW_MS - ago * DAY_MS, health)
    });
    LaneReport {
        device,
        health: health.collect(),
        drift_ppm: Some((20.0, 2.0)),
        refused_ms: None,
        untimed: 0,
        reader: None,
        days: Vec::new(),
    }
}

fn said(lane: &LaneReport) -> Vec<(Urgency, String)> {
    let now = Timestamp::from_millisecond(NOW_MS).unwrap();
    let words = Words::new(Language::English);
    lane.remarks(now, &TimeZone::UTC)
        .into_iter()
        .map(|remark| (remark.level, words.lane_fault(&remark.fault)))
        .collect()
}

#[test]
fn a_good_lane_needs_no_words() {
    assert_eq!(said(&lane(|_, _| {})), []);
}

#[test]
fn dirt_is_said_with_its_plate_and_its_day() {
    let dirty = lane(|ago, health| {
        if ago <= 2 {
            health.zero[Plate::RR] = Kilograms(7.25);
        }
    });
    assert_eq!(
        said(&dirty),
        [(Urgency::Soon, "plate RR carries 7.2 kg empty (since 6 Jan): clean on and under it".to_owned())]
    );
    let longer = lane(|ago, health| {
        if ago <= 8 {
            health.zero[Plate::LF] = Kilograms(-6.5);
        }
    });
    assert!(said(&longer)[0].1.contains("LF reads 6.5 kg too little empty (since 31 Dec)"));
    let cleaned = lane(|ago, health| {
        if ago >= 1 {
            health.zero[Plate::RR] = Kilograms(20.0);
        }
    });
    assert_eq!(said(&cleaned), []);
}

#[test]
fn a_dead_plate_comes_first_and_is_not_also_called_dirty() {
    let dead = lane(|ago, health| {
        health.noise[Plate::LF] = Kilograms(1.4);
        if ago == 0 {
            health.plates[Plate::LR] = PlateState::Silent;
            health.zero[Plate::LR] = Kilograms(99.0);
        }
    });
    let said = said(&dead);
    assert_eq!(said.len(), 2, "{said:?}");
    assert_eq!(said[0].0, Urgency::Now);
    assert!(said[0].1.starts_with("plate LR gives no readings") && said[0].1.contains("since 12:00"));
    assert!(said[1].1.starts_with("plate LF trembles by 1.4 kg"));
}

#[test]
fn losses_supply_and_restarts_are_said() {
    let poor = lane(|ago, health| {
        if ago == 0 {
            health.lost_readings = 500_000;
            health.passages_dropped = 3;
            health.journal_fill_pct = 90;
            health.supply_mv = Some(10_500);
        }
        if ago < 2 {
            health.boot = 10 - u32::try_from(ago).unwrap();
            health.reset = ResetCause::Brownout;
        }
    });
    let said = said(&poor);
    let all = said.iter().map(|(_, text)| text.as_str()).collect::<Vec<_>>().join("\n");
    assert_eq!(said.len(), 5, "{all}");
    assert!(said[0].1.starts_with("3 passages or tag reads were given up"), "{all}");
    assert!(all.contains("0.6 % of the readings"), "{all}");
    assert!(all.contains("90 % full"), "{all}");
    assert!(all.contains("10.5 V, usually 12.0 V"), "{all}");
    assert!(all.contains("restarted 2 times since 7 Jan, last because the supply dipped"), "{all}");
}

#[test]
fn silence_and_lost_time_are_said() {
    let mut quiet = lane(|_, _| {});
    quiet.device.heard_ms = NOW_MS - 3 * DAY_MS;
    quiet.untimed = 4;
    quiet.drift_ppm = Some((-180.0, 5.0));
    let said = said(&quiet);
    assert!(said[0].1.starts_with("not heard since 5 Jan"), "{said:?}");
    assert_eq!(said.len(), 3);
    assert!(said[1].1.contains("-180 ppm"));
}

#[test]
fn refused_items_come_first() {
    let mut anew = lane(|_, _| {});
    anew.refused_ms = Some(NOW_MS - DAY_MS);
    let said = said(&anew);
    assert_eq!(said[0].0, Urgency::Now);
    assert!(said[0].1.starts_with("its passages are refused since 7 Jan"), "{said:?}");
}

// Two days are 48 hours, and the first moment of them counts.
#[test]
fn a_readers_clock_is_spoken_of_for_two_days() {
    let offset = ReaderOffset { seconds: Some(3.0) };
    let told = |ago_ms: i64| {
        let store = Store::in_memory().expect("a store");
        store.meet_device(&hello(DeviceId(1), "East"), NOW_MS).expect("met");
        store.put_reader_offset("East", NOW_MS - ago_ms, offset).expect("kept");
        let found = lanes(&store, Timestamp::from_millisecond(NOW_MS).expect("a time")).expect("lanes");
        found[0].reader
    };
    assert_eq!(told(47 * 3_600_000), Some(offset));
    assert_eq!(told(48 * 3_600_000), Some(offset));
    assert_eq!(told(48 * 3_600_000 + 1), None);
}
