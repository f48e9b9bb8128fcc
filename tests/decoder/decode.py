"""Decodes captures of the message format, written from shared/WIRE.md alone; standard library only.

    python3 decode.py FILE.bin...            prints the messages as JSON
    python3 decode.py --check FILE.bin...    compares each with the FILE.json beside it
"""

import json
import pathlib
import struct
import sys

PLATE = ["LF", "RF", "LR", "RR"]
KIND = ["Stance", "WalkThrough", "Unclear"]
RESET = ["Unknown", "PowerOn", "Brownout", "Watchdog", "Software", "Panic", "Pin"]
PLATE_STATE = ["Good", "Saturated", "Stuck", "Silent"]
STEP = ["EmptyDeck", "KnownWeight", "Check", "Finish", "Abort"]
OUTCOME = ["Accepted", "NotSteady", "WrongLoad", "BadChannel", "OutOfOrder", "BadResult", "NotStored", "Aborted"]
REFUSAL = ["Schema", "BadSettings", "NotStored", "Busy", "NotPaired", "BadGate", "BadList", "BadTable", "NewerTable"]
REFUSAL += ["BadUpdate"]
UPDATE = ["Settled", "OnTrial", "FellBack", "Ready"]
GATE = ["Held", "HeldBefore", "Enough", "NotConfirmed", "Over", "HostSilent", "ClockUnsure", "ReaderSilent"]
GATE += ["NameUnsure", "TwoOnDeck", "FirstPlates", "PlatesUnsure", "Busy", "Stopped", "NotKept"]
FLAG = ["Clear", "Watch", "Check", "Urgent"]


def crc32_iscsi(data):
    value = 0xFFFFFFFF
    for byte in data:
        value ^= byte
        for _ in range(8):
            value = value >> 1 ^ (0x82F63B78 if value & 1 else 0)
    return value ^ 0xFFFFFFFF


def unstuff(data):
    plain, at = bytearray(), 0
    while at < len(data):
        code = data[at]
        run = data[at + 1 : at + code]
        if len(run) < code - 1:
            raise ValueError("cut off")
        plain += run
        at += code
        if code != 0xFF and at < len(data):
            plain.append(0)
    return bytes(plain)


class Body:
    """Reads the fields of a body from front to back."""

    def __init__(self, data):
        self.data, self.at = data, 0

    def take(self, count):
        piece = self.data[self.at : self.at + count]
        if len(piece) < count:
            raise ValueError("cut off")
        self.at += count
        return piece

    def u8(self):
        return self.take(1)[0]

    def unsigned(self, bits):
        value = shift = 0
        while True:
            byte = self.u8()
            value |= (byte & 0x7F) << shift
            shift += 7
            if not byte & 0x80:
                break
        if value >> bits:
            raise ValueError("too large")
        return value

    def signed(self, bits):
        value = self.unsigned(bits)
        return value >> 1 ^ -(value & 1)

    def u16(self):
        return self.unsigned(16)

    def u32(self):
        return self.unsigned(32)

    def u64(self):
        return self.unsigned(64)

    def f32(self):
        return struct.unpack("<f", self.take(4))[0]

    def bytes(self):
        return list(self.take(self.u32()))

    def text(self):
        return bytes(self.bytes()).decode()

    def option(self, read):
        some = self.u8()
        if some > 1:
            raise ValueError("neither none nor some")
        return read() if some else None

    def one_of(self, names):
        return names[self.u32()]

    def four(self, read):
        return self.some(4, read)

    def some(self, count, read):
        return [read() for _ in range(count)]

    def yes(self):
        byte = self.u8()
        if byte > 1:
            raise ValueError("neither no nor yes")
        return byte == 1

    def key(self):
        return {"boot": self.u32(), "sequence": self.u32()}


def hello(b):
    return {
        "schema": b.u16(),
        "oldest": b.u16(),
        "device": b.u64(),
        "boot": b.u32(),
        "firmware": [b.u8(), b.u8(), b.u8()],
        "rate_hz": b.u16(),
        "full_scale": b.u32(),
        "next_sequence": b.u32(),
        "waiting": b.u32(),
        "name": b.text(),
    }


def summary(b):
    return {
        "start": b.u64(),
        "duration": b.u64(),
        "kind": b.one_of(KIND),
        "quality": b.u16(),
        "readings": b.u32(),
        "lost_readings": b.u32(),
        "body_weight": b.option(lambda: {"value": b.f32(), "se": b.f32()}),
        "standing": b.option(
            lambda: {
                "seconds": b.f32(),
                "share_pct": b.four(b.f32),
                "share_sd_pct": b.four(b.f32),
                "share_se_pct": b.four(b.f32),
                "front_shifts": b.u16(),
                "rear_shifts": b.u16(),
                "lifts": b.four(b.u16),
            }
        ),
        "walking": b.four(
            lambda: {
                "count": b.u8(),
                "peak_pct": b.f32(),
                "stance_s": b.f32(),
                "impulse_pct_s": b.f32(),
                "step_s": b.f32(),
            }
        ),
    }


def passage(b):
    return {"key": b.key(), "passage": b.u32(), "trace_chunks": b.u16(), "summary": summary(b)}


def trace_chunk(b):
    return {"key": b.key(), "passage": b.u32(), "chunk": b.u16(), "data": b.bytes()}


def tag_read(b):
    return {"key": b.key(), "time": b.u64(), "code": b.u64()}


def health(b):
    return {
        "boot": b.u32(),
        "uptime": b.u64(),
        "reset": b.one_of(RESET),
        "supply_mv": b.option(b.u16),
        "temperature_dc": b.option(lambda: b.signed(16)),
        "lost_readings": b.u32(),
        "dropped_frames": b.u32(),
        "bad_tag_lines": b.u32(),
        "stack_high_water": b.u16(),
        "journal_fill_pct": b.u8(),
        "journal_waiting": b.u32(),
        "traces_dropped": b.u32(),
        "passages_dropped": b.u32(),
        "zero": b.four(b.f32),
        "noise": b.four(b.f32),
        "plates": b.four(lambda: b.one_of(PLATE_STATE)),
    }


def time_reply(b):
    return {
        "host_sent_ms": b.signed(64),
        "round_trip_ms": b.u16(),
        "boot": b.u32(),
        "received": b.u64(),
        "sent": b.u64(),
    }


def settings(b):
    return {
        "rate_hz": b.u16(),
        "zero": b.four(lambda: b.signed(32)),
        "kg_per_count": b.four(lambda: b.four(b.f32)),
        "name": b.text(),
    }


def step(b):
    name = b.one_of(STEP)
    if name in ("KnownWeight", "Check"):
        return {name: {"plate": b.one_of(PLATE), "weight": b.f32()}}
    return name


def calibration_reply(b):
    return {
        "step": step(b),
        "outcome": b.one_of(OUTCOME),
        "counts": b.four(lambda: b.signed(32)),
        "loads": b.four(b.f32),
    }


def raw_readings(b):
    return {"boot": b.u32(), "index": b.u32(), "data": b.bytes()}


def gate(b):
    return {
        "moves_high": b.yes(),
        "delay_ms": b.u16(),
        "pulse_ms": b.u16(),
        "hold_ms": b.u32(),
        "silence_s": b.u16(),
        "first_kg": b.f32(),
    }


def gate_event(b):
    return {"key": b.key(), "time": b.u64(), "code": b.u64(), "outcome": b.one_of(GATE)}


def orders(b):
    return {
        "gate": b.option(lambda: gate(b)),
        "list": b.u32(),
        "listed": b.u8(),
        "held": b.u8(),
        "in_force": b.yes(),
        "table": b.u32(),
        "coming": b.u32(),
        "next_row": b.u16(),
    }


def answer(b):
    return {
        "boot": b.u32(),
        "passage": b.u32(),
        "start": b.u64(),
        "code": b.u64(),
        "table": b.u32(),
        "flag": b.one_of(FLAG),
        "probability": b.f32(),
        "leg": b.option(lambda: b.one_of(PLATE)),
    }


def hold_list(b):
    return {
        "list": b.u32(),
        "part": b.u8(),
        "parts": b.u8(),
        "most": b.u8(),
        "codes": b.some(b.u32(), b.u64),
    }


def table(b):
    return {
        "version": b.u16(),
        "table": b.u32(),
        "rows": b.u16(),
        "variance": b.some(3, lambda: b.some(6, b.f32)),
        "shift": b.some(6, b.f32),
        "shift_variance": b.some(6, b.f32),
        "scored": b.some(6, b.f32),
        "watch": b.some(2, b.f32),
        "check": b.some(2, b.f32),
        "weight": b.f32(),
    }


def own_state(b):
    signed = lambda: (b.u8() + 128) % 256 - 128
    return {"state": b.u8(), "likely": b.u8(), "usual": b.some(6, signed), "usual_sd": b.some(6, b.u8)}


def cow_row(b):
    return {
        "code": b.u64(),
        "flag": b.one_of(FLAG),
        "treated": b.yes(),
        "unsettled": b.yes(),
        "usual": b.some(6, lambda: b.signed(16)),
        "usual_sd": b.some(6, b.u8),
        "noise": b.some(6, b.u8),
        "sound": b.u8(),
        "states": b.some(b.u32(), lambda: own_state(b)),
    }


def update_state(b):
    return {
        "board": b.text(),
        "room": b.u32(),
        "stage": b.one_of(UPDATE),
        "coming": b.u32(),
        "next": b.u32(),
    }


MESSAGES = {
    ord("D"): [
        ("Hello", hello),
        ("Passage", passage),
        ("TraceChunk", trace_chunk),
        ("TagRead", tag_read),
        ("Health", health),
        ("TimeReply", time_reply),
        ("Settings", settings),
        ("CalibrationReply", calibration_reply),
        ("RawReadings", raw_readings),
        ("Refused", lambda b: b.one_of(REFUSAL)),
        ("Paired", lambda b: {"device": b.u64(), "boot": b.u32(), "count": b.u32()}),
        ("Journal", lambda b: b.u64()),
        ("GateEvent", gate_event),
        ("Orders", orders),
        ("Answer", answer),
        ("Update", update_state),
    ],
    ord("H"): [
        ("Hello", lambda b: {"schema": b.u16(), "oldest": b.u16()}),
        ("Acknowledge", lambda b: {"first": b.u32(), "last": b.u32()}),
        ("TimeRequest", lambda b: {"host_sent_ms": b.signed(64), "round_trip_ms": b.u16()}),
        ("GetSettings", None),
        ("SetSettings", settings),
        ("Calibrate", step),
        ("StreamRaw", lambda b: {"seconds": b.u16()}),
        ("Open", lambda b: {"random": list(b.take(16)), "count": b.u32()}),
        ("Pair", lambda b: list(b.take(32))),
        ("NameJournal", lambda b: b.u64()),
        ("SetGate", lambda b: b.option(lambda: gate(b))),
        ("HoldList", hold_list),
        ("ConfirmList", lambda b: {"list": b.u32(), "now_utc_ms": b.signed(64), "until_utc_ms": b.signed(64)}),
        ("Table", table),
        ("Rows", lambda b: {"table": b.u32(), "first": b.u16(), "rows": b.bytes()}),
        ("GetUpdate", None),
        ("Update", lambda b: {"image": b.u32(), "bytes": b.u32(), "board": b.text()}),
        ("UpdatePart", lambda b: {"image": b.u32(), "at": b.u32(), "data": b.bytes()}),
    ],
}


def samples(data):
    """The samples of a trace chunk or of raw readings: time in ms and four values each."""
    body, sample, found = Body(bytes(data)), [0] * 5, []
    while body.at < len(body.data):
        sample[0] += body.u64()
        for plate in range(1, 5):
            value = sample[plate] + body.signed(32)
            sample[plate] = (value + 2**31) % 2**32 - 2**31
        found.append(list(sample))
    return found


def cow_rows(data):
    """The rows of a table that are in one message."""
    body, found = Body(bytes(data)), []
    while body.at < len(body.data):
        found.append(cow_row(body))
    return found


def decode(payload):
    """One message, or None for a kind that only a newer peer knows."""
    sender, kind = payload[0], payload[1]
    kinds = MESSAGES[sender]
    if kind >= len(kinds):
        return None
    name, read = kinds[kind]
    return {name: read(Body(payload[2:]))} if read else name


def decode_stream(data):
    """Everything in a capture: the messages, frames dropped, messages skipped, samples of all streams."""
    result = {"messages": [], "dropped": 0, "skipped": 0, "samples": []}
    frames = data.split(b"\0")
    for frame in filter(None, frames[:-1]):
        try:
            plain = unstuff(frame)
        except ValueError:
            plain = b""
        payload, check = plain[:-4], plain[-4:]
        if len(payload) < 2 or crc32_iscsi(payload) != int.from_bytes(check, "little"):
            result["dropped"] += 1
            continue
        try:
            message = decode(payload)
        except (ValueError, IndexError, KeyError, UnicodeDecodeError):
            message = None
        if message is None:
            result["skipped"] += 1
            continue
        result["messages"].append(message)
        for name, fields in message.items() if isinstance(message, dict) else []:
            if name in ("TraceChunk", "RawReadings"):
                result["samples"].append(samples(fields["data"]))
        if isinstance(message, dict) and "Rows" in message:
            result.setdefault("rows", []).extend(cow_rows(message["Rows"]["rows"]))
    return result


def equal(ours, golden):
    """Equality with floats compared as the 32-bit values they stand for."""
    if isinstance(ours, float) or isinstance(golden, float):
        return struct.pack("<f", ours) == struct.pack("<f", golden)
    if isinstance(ours, dict) and isinstance(golden, dict):
        return ours.keys() == golden.keys() and all(equal(ours[key], golden[key]) for key in ours)
    if isinstance(ours, list) and isinstance(golden, list):
        return len(ours) == len(golden) and all(map(equal, ours, golden))
    return type(ours) is type(golden) and ours == golden


def main(arguments):
    check = arguments[:1] == ["--check"]
    wrong = 0
    for name in arguments[check:]:
        path = pathlib.Path(name)
        result = decode_stream(path.read_bytes())
        if not check:
            print(json.dumps(result, indent=1))
        elif not equal(result, json.loads(path.with_suffix(".json").read_text())):
            print(f"{path.name}: differs", file=sys.stderr)
            wrong += 1
    if check:
        print(f"{len(arguments) - 1 - wrong} passed, {wrong} failed")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
