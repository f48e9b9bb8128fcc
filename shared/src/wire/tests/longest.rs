//! The longest value of every kind.

use super::super::*;
use crate::{
    analysis::{LegContacts, PassageKind, PassageSummary, Quality, Standing},
    identity::AnimalCode,
    lane_score::{LaneFlag, TableHead},
    limits::{MAX_HELD_A_PART, MAX_NAME_BYTES, MAX_TRACE_DATA_BYTES},
    plate::{Leg, PerLeg, PerPlate, Plate},
    units::{Counts, Estimate, Kilograms, Milliseconds},
};
use std::{vec, vec::Vec};

const WORST: PerLeg<f32> = PerLeg([f32::MAX; 4]);
const WORST_KEY: ItemKey = ItemKey { boot: u32::MAX, sequence: u32::MAX };

pub fn worst_summary() -> PassageSummary {
    let contacts = LegContacts {
        count: u8::MAX,
        peak_pct: f32::MAX,
        stance_s: f32::MAX,
        impulse_pct_s: f32::MAX,
        step_s: f32::MAX,
    };
    PassageSummary {
        start: Milliseconds(u64::MAX),
        duration: Milliseconds(u64::MAX),
        kind: PassageKind::Unclear,
        quality: Quality(u16::MAX),
        readings: u32::MAX,
        lost_readings: u32::MAX,
        body_weight: Some(Estimate { value: f32::MAX, se: f32::MAX }),
        standing: Some(Standing {
            seconds: f32::MAX,
            share_pct: WORST,
            share_sd_pct: WORST,
            share_se_pct: WORST,
            front_shifts: u16::MAX,
            rear_shifts: u16::MAX,
            lifts: PerLeg([u16::MAX; 4]),
        }),
        walking: PerLeg([contacts; 4]),
    }
}

fn worst_settings() -> Settings {
    Settings {
        rate_hz: u16::MAX,
        zero: PerPlate([Counts(i32::MIN); 4]),
        kg_per_count: [[f32::MIN; 4]; 4],
        name: name(),
    }
}

fn name() -> heapless::String<MAX_NAME_BYTES> {
    heapless::String::try_from("x".repeat(MAX_NAME_BYTES).as_str()).expect("as long as may be")
}

fn data() -> heapless::Vec<u8, MAX_TRACE_DATA_BYTES> {
    heapless::Vec::from_slice(&[0xFF; MAX_TRACE_DATA_BYTES]).expect("as long as may be")
}

/// The longest value of every kind, in order of kind.
pub fn worst_device_messages() -> Vec<DeviceMessage> {
    let plates = PerPlate([Kilograms(f32::MIN); 4]);
    vec![
        DeviceMessage::Hello(DeviceHello {
            schema: u16::MAX,
            oldest: u16::MAX,
            device: DeviceId(u64::MAX),
            boot: u32::MAX,
            firmware: [u8::MAX; 3],
            rate_hz: u16::MAX,
            full_scale: u32::MAX,
            next_sequence: u32::MAX,
            waiting: u32::MAX,
            name: name(),
        }),
        DeviceMessage::Passage(Passage {
            key: WORST_KEY,
            passage: u32::MAX,
            trace_chunks: u16::MAX,
            summary: worst_summary(),
        }),
        DeviceMessage::TraceChunk(TraceChunk {
            key: WORST_KEY,
            passage: u32::MAX,
            chunk: u16::MAX,
            data: data(),
        }),
        DeviceMessage::TagRead(TagRead {
            key: WORST_KEY,
            time: Milliseconds(u64::MAX),
            code: AnimalCode::new(999, (1 << 38) - 1).expect("the largest code"),
        }),
        DeviceMessage::Health(Health {
            boot: u32::MAX,
            uptime: Milliseconds(u64::MAX),
            reset: ResetCause::Pin,
            supply_mv: Some(u16::MAX),
            temperature_dc: Some(i16::MIN),
            lost_readings: u32::MAX,
            dropped_frames: u32::MAX,
            bad_tag_lines: u32::MAX,
            stack_high_water: u16::MAX,
            journal_fill_pct: u8::MAX,
            journal_waiting: u32::MAX,
            traces_dropped: u32::MAX,
            passages_dropped: u32::MAX,
            zero: plates,
            noise: plates,
            plates: PerPlate([PlateState::Silent; 4]),
        }),
        DeviceMessage::TimeReply(TimeReply {
            host_sent_ms: i64::MIN,
            round_trip_ms: u16::MAX,
            boot: u32::MAX,
            received: Milliseconds(u64::MAX),
            sent: Milliseconds(u64::MAX),
        }),
        DeviceMessage::Settings(worst_settings()),
        DeviceMessage::CalibrationReply(CalibrationReply {
            step: CalibrationStep::KnownWeight { plate: Plate::RR, weight: Kilograms(f32::MAX) },
            outcome: CalibrationOutcome::Aborted,
            counts: PerPlate([Counts(i32::MIN); 4]),
            loads: plates,
        }),
        DeviceMessage::RawReadings(RawReadings { boot: u32::MAX, index: u32::MAX, data: data() }),
        DeviceMessage::Refused(Refusal::Busy),
        DeviceMessage::Paired(Paired { device: DeviceId(u64::MAX), boot: u32::MAX, count: u32::MAX }),
        DeviceMessage::Journal(u64::MAX),
        DeviceMessage::GateEvent(GateEvent {
            key: WORST_KEY,
            time: Milliseconds(u64::MAX),
            code: worst_code(),
            outcome: GateOutcome::NotKept,
        }),
        DeviceMessage::Orders(LaneOrders {
            gate: Some(WORST_GATE),
            list: u32::MAX,
            listed: u8::MAX,
            held: u8::MAX,
            in_force: true,
            table: u32::MAX,
            coming: u32::MAX,
            next_row: u16::MAX,
        }),
        DeviceMessage::Answer(LaneAnswer {
            boot: u32::MAX,
            passage: u32::MAX,
            start: Milliseconds(u64::MAX),
            code: worst_code(),
            table: u32::MAX,
            flag: LaneFlag::Urgent,
            probability: 1.0,
            leg: Some(Leg::RR),
        }),
        DeviceMessage::Update(UpdateState {
            board: "sixteen--letters".try_into().expect("it fits"),
            room: u32::MAX,
            stage: UpdateStage::Ready,
            coming: u32::MAX,
            next: u32::MAX,
        }),
    ]
}

fn worst_code() -> AnimalCode {
    AnimalCode::new(999, (1 << 38) - 1).expect("the largest code")
}

const WORST_GATE: GateSettings = GateSettings {
    moves_high: true,
    delay_ms: u16::MAX,
    pulse_ms: u16::MAX,
    hold_ms: u32::MAX,
    silence_s: u16::MAX,
    first_kg: Kilograms(f32::MAX),
};

pub fn worst_host_messages() -> Vec<HostMessage> {
    vec![
        HostMessage::Hello(HostHello { schema: u16::MAX, oldest: u16::MAX }),
        HostMessage::Acknowledge { first: u32::MAX, last: u32::MAX },
        HostMessage::TimeRequest(TimeRequest { host_sent_ms: i64::MIN, round_trip_ms: u16::MAX }),
        HostMessage::GetSettings,
        HostMessage::SetSettings(worst_settings()),
        HostMessage::Calibrate(CalibrationStep::Check { plate: Plate::RR, weight: Kilograms(f32::MAX) }),
        HostMessage::StreamRaw { seconds: u16::MAX },
        HostMessage::Open { random: [u8::MAX; 16], count: u32::MAX },
        HostMessage::Pair(LinkKey([u8::MAX; 32])),
        HostMessage::NameJournal(u64::MAX),
        HostMessage::SetGate(Some(WORST_GATE)),
        HostMessage::HoldList(HoldList {
            list: u32::MAX,
            part: u8::MAX,
            parts: u8::MAX,
            most: u8::MAX,
            codes: heapless::Vec::from_slice(&[worst_code(); MAX_HELD_A_PART]).expect("as many as may be"),
        }),
        HostMessage::ConfirmList(ConfirmList {
            list: u32::MAX,
            now_utc_ms: i64::MIN,
            until_utc_ms: i64::MIN,
        }),
        HostMessage::Table(TableHead {
            version: u16::MAX,
            table: u32::MAX,
            rows: u16::MAX,
            variance: [[f32::MAX; 6]; 3],
            shift: [f32::MAX; 6],
            shift_variance: [f32::MAX; 6],
            scored: [f32::MAX; 6],
            watch: [f32::MAX; 2],
            check: [f32::MAX; 2],
            weight: f32::MAX,
        }),
        HostMessage::Rows(TableRows { table: u32::MAX, first: u16::MAX, rows: data() }),
        HostMessage::GetUpdate,
        HostMessage::Update(UpdateHead {
            image: u32::MAX,
            bytes: u32::MAX,
            board: "sixteen--letters".try_into().expect("it fits"),
        }),
        HostMessage::UpdatePart(UpdatePart { image: u32::MAX, at: u32::MAX, data: data() }),
    ]
}
