//! The messages of the golden files.

use crate::Said;
use shared::{
    analysis::{LegContacts, PassageKind, PassageSummary, Quality, Reason, Standing},
    lane_score::{CowRow, LaneFlag, OwnState, TableHead},
    plate::{Leg, PerLeg, PerPlate, Plate},
    units::{Counts, Estimate, Kilograms, Milliseconds},
    wire::*,
};

fn data<const N: usize>(samples: &[Sample]) -> [u8; N] {
    let (mut encoder, mut bytes, mut at) = (TraceEncoder::new(), [0; N], 0);
    for sample in samples {
        at += encoder.push(sample, &mut bytes[at..]).expect("fits");
    }
    assert_eq!(at, N, "length of the sample run");
    bytes
}

fn at(time: u64, values: [i32; 4]) -> Sample {
    Sample { time: Milliseconds(time), values: PerPlate(values) }
}

fn stance() -> PassageSummary {
    let mut quality = Quality::default();
    quality.add(Reason::Ringing);
    quality.add(Reason::ZeroUnsure);
    let contacts =
        |peak_pct| LegContacts { count: 1, peak_pct, stance_s: 0.72, impulse_pct_s: 29.5, step_s: 0.61 };
    PassageSummary {
        start: Milliseconds(81_250),
        duration: Milliseconds(9_430),
        kind: PassageKind::Stance,
        quality,
        readings: 943,
        lost_readings: 2,
        body_weight: Some(Estimate { value: 652.4, se: 1.3 }),
        standing: Some(Standing {
            seconds: 6.1,
            share_pct: PerLeg([27.4, 26.1, 26.0, 20.5]),
            share_sd_pct: PerLeg([1.1, 1.2, 2.3, 2.4]),
            share_se_pct: PerLeg([0.3, 0.3, 0.6, 0.7]),
            front_shifts: 1,
            rear_shifts: 7,
            lifts: PerLeg([0, 0, 0, 2]),
        }),
        walking: PerLeg([contacts(58.0), contacts(57.1), contacts(47.9), LegContacts::default()]),
    }
}

fn walk_through() -> PassageSummary {
    PassageSummary {
        kind: PassageKind::WalkThrough,
        quality: Quality::default(),
        body_weight: None,
        standing: None,
        start: Milliseconds(5_000_000_000),
        ..stance()
    }
}

fn settings() -> Settings {
    Settings {
        rate_hz: 100,
        zero: PerPlate([Counts(-1_204), Counts(88_310), Counts(0), Counts(-8_388_608)]),
        kg_per_count: [
            [1.25e-4, 1.0e-6, 0.0, 0.0],
            [0.0, 1.26e-4, 0.0, -2.0e-6],
            [0.0, 0.0, 1.24e-4, 0.0],
            [0.0, 0.0, 0.0, 1.25e-4],
        ],
        name: "Uitgang – east".try_into().expect("short"),
    }
}

fn hello() -> DeviceMessage {
    DeviceMessage::Hello(DeviceHello {
        schema: 1,
        oldest: 1,
        device: DeviceId(0x0123_4567_89AB_CDEF),
        boot: 3,
        firmware: [0, 1, 0],
        rate_hz: 100,
        full_scale: 8_388_607,
        next_sequence: 304,
        waiting: 4,
        name: "Uitgang – east".try_into().expect("short"),
    })
}

fn health() -> Health {
    Health {
        boot: 3,
        uptime: Milliseconds(3_600_000),
        reset: ResetCause::Watchdog,
        supply_mv: Some(11_870),
        temperature_dc: Some(-45),
        lost_readings: 12,
        dropped_frames: 1,
        bad_tag_lines: 0,
        stack_high_water: 2_104,
        journal_fill_pct: 4,
        journal_waiting: 9,
        traces_dropped: 0,
        passages_dropped: 0,
        zero: PerPlate([0.4, -0.1, 0.0, 6.25].map(Kilograms)),
        noise: PerPlate([0.05, 0.06, 0.05, 0.4].map(Kilograms)),
        plates: PerPlate([PlateState::Good, PlateState::Saturated, PlateState::Stuck, PlateState::Silent]),
    }
}

pub fn device_samples() -> Vec<(&'static str, DeviceMessage)> {
    let key = |sequence| ItemKey { boot: 3, sequence };
    let trace: [u8; 13] = data(&[at(1_000, [0, 1, -1, 64]), at(1_010, [0, 1, -1, -64])]);
    let counts: [u8; 18] =
        data(&[at(500, [1, -1, 8_388_607, i32::MIN]), at(510, [1, -1, 8_388_607, i32::MAX])]);
    let step = CalibrationStep::KnownWeight { plate: Plate::RF, weight: Kilograms(20.0) };
    vec![
        ("device-hello", hello()),
        (
            "passage-stance",
            DeviceMessage::Passage(Passage {
                key: key(302),
                passage: 150,
                trace_chunks: 2,
                summary: stance(),
            }),
        ),
        (
            "passage-walk-through",
            DeviceMessage::Passage(Passage {
                key: key(303),
                passage: 151,
                trace_chunks: 0,
                summary: walk_through(),
            }),
        ),
        (
            "trace-chunk",
            DeviceMessage::TraceChunk(TraceChunk {
                key: key(301),
                passage: 150,
                chunk: 0,
                data: trace.into_iter().collect(),
            }),
        ),
        (
            "tag-read",
            DeviceMessage::TagRead(TagRead {
                key: key(300),
                time: Milliseconds(65_000),
                code: "999000000112233".parse().expect("a code"),
            }),
        ),
        ("health", DeviceMessage::Health(health())),
        (
            "health-nothing-measured",
            DeviceMessage::Health(Health { supply_mv: None, temperature_dc: None, ..health() }),
        ),
        (
            "time-reply",
            DeviceMessage::TimeReply(TimeReply {
                host_sent_ms: 1_767_225_600_000,
                round_trip_ms: 14,
                boot: 3,
                received: Milliseconds(60_007),
                sent: Milliseconds(60_008),
            }),
        ),
        ("settings", DeviceMessage::Settings(settings())),
        (
            "calibration-reply",
            DeviceMessage::CalibrationReply(CalibrationReply {
                step,
                outcome: CalibrationOutcome::NotSteady,
                counts: PerPlate([Counts(-3), Counts(160_000), Counts(12), Counts(0)]),
                loads: PerPlate([0.0, 20.1, 0.0, -0.1].map(Kilograms)),
            }),
        ),
        (
            "raw-readings",
            DeviceMessage::RawReadings(RawReadings { boot: 3, index: 7, data: counts.into_iter().collect() }),
        ),
        ("refused", DeviceMessage::Refused(Refusal::BadSettings)),
    ]
}

pub fn host_samples() -> Vec<(&'static str, HostMessage)> {
    vec![
        ("host-hello", HostMessage::Hello(HostHello { schema: 1, oldest: 1 })),
        ("acknowledge", HostMessage::Acknowledge { first: 5, last: 9 }),
        (
            "time-request",
            HostMessage::TimeRequest(TimeRequest { host_sent_ms: 1_767_225_600_000, round_trip_ms: 14 }),
        ),
        ("get-settings", HostMessage::GetSettings),
        ("set-settings", HostMessage::SetSettings(settings())),
        ("calibrate-empty-deck", HostMessage::Calibrate(CalibrationStep::EmptyDeck)),
        (
            "calibrate-check",
            HostMessage::Calibrate(CalibrationStep::Check { plate: Plate::LR, weight: Kilograms(20.0) }),
        ),
        ("stream-raw", HostMessage::StreamRaw { seconds: 300 }),
    ]
}

/// Messages of schemas 2 and 3, which the published capture does not hold.
pub fn added_samples() -> Vec<(&'static str, Said)> {
    let paired = Paired { device: DeviceId(0x00A1_B2C3_D4E5_F607), boot: 3, count: 1 };
    let open = HostMessage::Open { random: std::array::from_fn(|n| n as u8), count: 1 };
    let key = LinkKey(std::array::from_fn(|n| 0xE0 + n as u8));
    vec![
        ("paired", Said::Device(DeviceMessage::Paired(paired))),
        ("open", Said::Host(open)),
        ("pair", Said::Host(HostMessage::Pair(key))),
        ("journal", Said::Device(DeviceMessage::Journal(0x0123_4567_89AB_CDEF))),
        ("name-journal", Said::Host(HostMessage::NameJournal(0x0123_4567_89AB_CDEF))),
    ]
    .into_iter()
    .chain(ordered_samples())
    .collect()
}

/// Messages of the gate and of the table of cows.
fn ordered_samples() -> Vec<(&'static str, Said)> {
    let code = |digits: &str| digits.parse().expect("a code");
    let gate = GateSettings {
        moves_high: true,
        delay_ms: 4_000,
        pulse_ms: 800,
        hold_ms: 15_000,
        silence_s: 180,
        first_kg: Kilograms(20.0),
    };
    let cow = CowRow {
        code: code("999000000112233"),
        flag: LaneFlag::Watch,
        treated: false,
        unsettled: false,
        usual: [-215, 90, 5_480, 12, -3, 5_390],
        usual_sd: [31, 42, 12, 20, 35, 9],
        noise: [16, 14, 20, 16, 16, 11],
        sound: 4,
        states: [OwnState {
            state: 18,
            likely: 27,
            usual: [1, -9, 0, 0, -5, 1],
            usual_sd: [33, 60, 14, 21, 58, 10],
        }]
        .into_iter()
        .collect(),
    };
    let other = CowRow { code: code("999000000112290"), states: [].into_iter().collect(), ..cow.clone() };
    let bytes = |row: &CowRow| postcard::to_allocvec(row).expect("bytes");
    let rows = [bytes(&cow), bytes(&other)].concat();
    let head = TableHead {
        version: 1,
        table: 20_451,
        rows: 2,
        variance: [
            [9.0, 9.5, 2.0, 16.0, 15.0, 2.5],
            [30.0, 31.0, 6.0, 16.0, 15.0, 2.5],
            [60.0, 61.0, 9.0, 16.0, 15.0, 2.5],
        ],
        shift: [0.5, -0.25, 0.0, 0.0, 0.125, 0.0],
        shift_variance: [0.04; 6],
        scored: [0.004, 0.25, 0.9, 0.99, 1.0, 1.0],
        watch: [0.2, 0.125],
        check: [0.6, 0.4],
        weight: 0.5,
    };
    let orders = LaneOrders {
        gate: Some(gate),
        list: 20_451,
        listed: 2,
        held: 1,
        in_force: true,
        table: 20_450,
        coming: 20_451,
        next_row: 1,
    };
    vec![
        (
            "gate-event",
            Said::Device(DeviceMessage::GateEvent(GateEvent {
                key: ItemKey { boot: 3, sequence: 305 },
                time: Milliseconds(65_000),
                code: cow.code,
                outcome: GateOutcome::FirstPlates,
            })),
        ),
        ("orders", Said::Device(DeviceMessage::Orders(orders))),
        ("orders-none", Said::Device(DeviceMessage::Orders(LaneOrders::default()))),
        (
            "answer",
            Said::Device(DeviceMessage::Answer(LaneAnswer {
                boot: 3,
                passage: 150,
                start: Milliseconds(81_250),
                code: cow.code,
                table: 20_451,
                flag: LaneFlag::Check,
                probability: 0.75,
                leg: Some(Leg::RR),
            })),
        ),
        ("set-gate", Said::Host(HostMessage::SetGate(Some(gate)))),
        ("set-no-gate", Said::Host(HostMessage::SetGate(None))),
        (
            "hold-list",
            Said::Host(HostMessage::HoldList(HoldList {
                list: 20_451,
                part: 0,
                parts: 1,
                most: 6,
                codes: [cow.code, other.code].into_iter().collect(),
            })),
        ),
        (
            "confirm-list",
            Said::Host(HostMessage::ConfirmList(ConfirmList {
                list: 20_451,
                now_utc_ms: 1_767_225_600_000,
                until_utc_ms: 1_767_240_000_000,
            })),
        ),
        ("table", Said::Host(HostMessage::Table(head))),
        (
            "table-rows",
            Said::Host(HostMessage::Rows(TableRows {
                table: 20_451,
                first: 0,
                rows: rows.into_iter().collect(),
            })),
        ),
        (
            "update-state",
            Said::Device(DeviceMessage::Update(UpdateState {
                board: "mps2-an386".try_into().expect("short"),
                room: 98_272,
                stage: UpdateStage::OnTrial,
                coming: 0x9E3A_11C4,
                next: 448,
            })),
        ),
        ("get-update", Said::Host(HostMessage::GetUpdate)),
        (
            "update",
            Said::Host(HostMessage::Update(UpdateHead {
                image: 0x9E3A_11C4,
                bytes: 95_104,
                board: "mps2-an386".try_into().expect("short"),
            })),
        ),
        (
            "update-part",
            Said::Host(HostMessage::UpdatePart(UpdatePart {
                image: 0x9E3A_11C4,
                at: 448,
                data: (0..=20).collect(),
            })),
        ),
    ]
}
