//! Published captures, generators and manuals against the decoder; each names its source.

use super::{AnimalCode, CodeError, LineError, ReaderLine, Telegram, TelegramError, parse_line};
use proptest::prelude::*;
use std::{string::ToString, vec::Vec};

struct Vector {
    bits: &'static str,
    digits: &'static str,
    animal: bool,
    data_block: bool,
    check: u16,
    trailer: [u8; 3],
}

/// In order: off-air captures of RfidResearchGroup/proxmark3 (traces lf_ATA5577_fdxb_animal, the same extended,
/// lf_FDXB_Bio-Thermo, lf_EM4x05), two telegrams of the swdee/fdxb-tag-simulator README, and the one of
/// flipperdevices/flipperzero-firmware lfrfid_protocols.c.
const VECTORS: [Vector; 7] = [
    Vector {
        bits: "10000000000110010110101101101110000000100000000100000011110011111100000000100000001100010010100111011100000000100000000100000000",
        digits: "999000000112233",
        animal: true,
        data_block: false,
        check: 0xDC48,
        trailer: [0; 3],
    },
    Vector {
        bits: "10000000000110010110101101101110000000100000000100000011110011111110000000100000000100011001110000010101010110110000000100000000",
        digits: "999000000112233",
        animal: false,
        data_block: true,
        check: 0x4198,
        trailer: [0x6A, 0x01, 0x00],
    },
    Vector {
        bits: "10000000000110010110101101101110000000100000000100000011110011111110000000100000001100001001110100011101010110110000000100000000",
        digits: "999000000112233",
        animal: true,
        data_block: true,
        check: 0xC590,
        trailer: [0x6A, 0x01, 0x00],
    },
    Vector {
        bits: "10000000000101101101110110000110000100100001000100000000111111000100000000100000001110100011111010110100000000100000000100000000",
        digits: "124000270601654",
        animal: true,
        data_block: false,
        check: 0x6BC5,
        trailer: [0; 3],
    },
    Vector {
        bits: "10000000000110010101111111101110100110100101010101000010101110111100000000100000001110100001110000111100000000100000000100000000",
        digits: "953010005888937",
        animal: true,
        data_block: false,
        check: 0xE185,
        trailer: [0; 3],
    },
    Vector {
        bits: "10000000000111010011110000011110101010111100110110000111100111000100000000100000001111101100101111000100000000100000000100000000",
        digits: "115143467594187",
        animal: true,
        data_block: false,
        check: 0x1E37,
        trailer: [0; 3],
    },
    Vector {
        bits: "10000000000101000100110001000100100011111110010101011010101101111100000000100000001111111011100111111100000000100000000100000000",
        digits: "985113007399202",
        animal: true,
        data_block: false,
        check: 0xFCDF,
        trailer: [0; 3],
    },
];

/// Country 372, national 215000123456, user 3, retagging 5: derived from the layout of ISO 11784.
const FIELDS: &str = "10000000000100000010100010001110000000111110000101001100110111010100000001110001011111100000110001000100000000100000000100000000";

fn bits(text: &str) -> u128 {
    assert_eq!(text.len(), 128);
    u128::from_str_radix(text, 2).expect("zeros and ones")
}

fn code(digits: &str) -> AnimalCode {
    digits.parse().expect("a possible code")
}

fn hex(bytes: &[u8]) -> u64 {
    bytes.iter().fold(0, |value, byte| (value << 8) | u64::from(*byte))
}

#[test]
fn published_telegrams_decode_and_encode() {
    for vector in &VECTORS {
        let telegram = Telegram::decode(bits(vector.bits)).expect(vector.bits);
        assert_eq!(telegram.code.to_string(), vector.digits);
        assert_eq!(telegram.code.is_animal(), vector.animal, "{}", vector.digits);
        assert_eq!(telegram.code.has_data_block(), vector.data_block, "{}", vector.digits);
        assert_eq!(telegram.check(), vector.check, "{}", vector.digits);
        assert_eq!(telegram.trailer, vector.trailer, "{}", vector.digits);
        assert_eq!(telegram.encode(), bits(vector.bits), "{}", vector.digits);
    }
}

#[test]
fn fields_lie_where_the_standard_puts_them() {
    let telegram = Telegram::decode(bits(FIELDS)).expect("a telegram");
    let code = telegram.code;
    assert_eq!((code.country(), code.national()), (372, 215_000_123_456));
    assert_eq!((code.user(), code.retagging(), code.reserved()), (3, 5, 0));
    assert_eq!(telegram.check(), 0x1107);
    assert_eq!(telegram.encode(), bits(FIELDS));
}

#[test]
fn the_largest_code_and_one_more() {
    let largest = AnimalCode::new(999, (1 << 38) - 1).expect("the largest");
    let telegram = Telegram { code: largest, trailer: [0; 3] };
    assert_eq!(largest.bits().to_le_bytes(), [0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xF9, 0x00, 0x80]);
    assert_eq!(telegram.check(), 0x250C);
    assert_eq!(AnimalCode::new(999, 1 << 38), Err(CodeError::NationalTooLarge));
    assert_eq!("999274877906944".parse::<AnimalCode>(), Err(CodeError::NationalTooLarge));
    assert_eq!("000000000000001".parse::<AnimalCode>(), Err(CodeError::CountryZero));
    assert_eq!(AnimalCode::new(1000, 1), Err(CodeError::CountryTooLarge));
    assert_eq!(AnimalCode::from_bits(1023 << 38), Err(CodeError::CountryTooLarge));
    assert_eq!("99900000011223".parse::<AnimalCode>(), Err(CodeError::NotFifteenDigits));
    assert_eq!("99900000011223x".parse::<AnimalCode>(), Err(CodeError::NotFifteenDigits));
}

#[test]
fn doubtful_codes_are_told_apart() {
    assert!(code("999000000112233").is_test());
    assert!(!code("953010005888937").is_test());
    assert!(!Telegram::decode(bits(VECTORS[1].bits)).expect("a telegram").code.is_animal());
}

/// Source: README and tests of the R package ISO11784Tools.
#[test]
fn hexadecimal_forms_agree() {
    for (digits, isobits, sent) in [
        ("999123456789012", 0x8000_F9DC_BE99_1A14, 0x2858_997D_3B9F_0001),
        ("999012345678901", 0x8000_F9C2_DFDC_1C35, 0xAC38_3BFB_439F_0001),
    ] {
        let code = code(digits);
        assert_eq!(code.bits(), isobits, "{digits}");
        assert_eq!(hex(&code.bits().to_le_bytes().map(u8::reverse_bits)), sent, "{digits}");
        assert_eq!(AnimalCode::from_bits(isobits).map(|code| code.to_string()), Ok(digits.to_string()));
    }
    // 3E7.1CBE991A14: country and national code apart.
    assert_eq!(
        (code("999123456789012").country(), code("999123456789012").national()),
        (0x3E7, 0x1C_BE99_1A14)
    );
    // As lfrfid_protocols.c has it.
    assert_eq!(
        hex(&code("985113007399202").bits().to_le_bytes().map(u8::reverse_bits)),
        0x4488_23F2_5A6F_0001
    );
}

#[test]
fn a_telegram_is_found_wherever_it_begins() {
    for vector in &VECTORS {
        let whole = Telegram::decode(bits(vector.bits));
        for turn in 0..128 {
            assert_eq!(Telegram::decode(bits(vector.bits).rotate_left(turn)), whole);
        }
    }
}

#[test]
fn a_wrong_bit_is_noticed_up_to_the_trailer() {
    let flip = |frame: u128, bit: u32| frame ^ (1 << (127 - bit));
    for vector in &VECTORS {
        let frame = bits(vector.bits);
        for bit in 0..101 {
            assert!(Telegram::decode(flip(frame, bit)).is_err(), "{} bit {bit}", vector.digits);
        }
        for control in [101, 110, 119] {
            assert_eq!(Telegram::decode(flip(frame, control)), Err(TelegramError::NoHeader));
        }
        let trailer = Telegram::decode(flip(frame, 105)).expect("the trailer has no check");
        assert_eq!(trailer.code.to_string(), vector.digits);
    }
}

/// Forms from two tag reader manuals.
#[test]
fn printed_lines_are_read() {
    for (line, digits) in [
        ("964000000123456", "964000000123456"),
        ("964 000000123456", "964000000123456"),
        ("LA 982 000001088420", "982000001088420"),
        ("LA 00000 0 982 000001088420", "982000001088420"),
        ("A0000000964000000123456", "964000000123456"),
        ("10000000964000000123456", "964000000123456"),
        ("A 00000 0 0999 000000123456", "999000000123456"),
        ("0964000000123456", "964000000123456"),
    ] {
        assert_eq!(parse_line(line.as_bytes()), Ok(code(digits)), "{line}");
    }
    for line in ["LR 0006 0000000018514348", "R00060000000000123456", "00000000964000000123456"] {
        assert_eq!(parse_line(line.as_bytes()), Err(LineError::NotAnAnimal), "{line}");
    }
    for line in [
        "",
        "READY",
        "A",
        "96400000012345",
        "9640000001234567",
        "LA 982 00000108842",
        "LA 98 2000001088420",
        "B964000000123456",
        "20000000964000000123456",
        "964-000000123456",
        "A 0000 0 0999 000000123456",
        "1 2 3 4 5",
    ] {
        assert_eq!(parse_line(line.as_bytes()), Err(LineError::NotATag), "{line}");
    }
    assert_eq!(parse_line(b"000000000123456"), Err(LineError::Code(CodeError::CountryZero)));
    assert_eq!(parse_line(b"964 999999999999"), Err(LineError::Code(CodeError::NationalTooLarge)));
}

#[test]
fn a_letter_alone_is_no_tag_and_r_with_digits_is_no_animal() {
    assert_eq!(parse_line(b"R"), Err(LineError::NotATag));
    assert_eq!(parse_line(b"L"), Err(LineError::NotATag));
    assert_eq!(parse_line(b"R 1"), Err(LineError::NotAnAnimal));
}

fn lines(bytes: &[u8]) -> Vec<Result<AnimalCode, LineError>> {
    let mut reader = ReaderLine::new();
    bytes.iter().filter_map(|byte| reader.push(*byte)).collect()
}

#[test]
fn a_stream_is_cut_into_lines() {
    let tag = Ok(code("964000000123456"));
    assert_eq!(lines(b"964000000123456\r\n964000000123456\n"), [tag, tag]);
    assert_eq!(lines(b"\x02964000000123456\x03\r\n"), [tag]);
    assert_eq!(lines(b"964000\x02964000000123456\r"), [tag], "a start mark begins afresh");
    assert_eq!(lines(b"\xFF\x00964000000123456\r"), [tag], "noise before the line");
    assert_eq!(lines(b"9640000\xFF00123456\r964000000123456\r"), [Err(LineError::Noise), tag]);
    assert_eq!(lines(b"\r\n  \r\n"), []);
    let mut long = Vec::from([b'9'; 200]);
    long.extend_from_slice(b"\r964000000123456\r");
    assert_eq!(lines(&long), [Err(LineError::TooLong), tag]);
}

proptest! {
    #[test]
    fn any_code_survives_its_telegram(country in 1u16..=999, national in 0u64..(1 << 38), flags in 0u64..(1 << 16), trailer: [u8; 3], turn in 0u32..128) {
        let bits = (flags << 48) | (u64::from(country) << 38) | national;
        let telegram = Telegram { code: AnimalCode::from_bits(bits).expect("possible"), trailer };
        let read = Telegram::decode(telegram.encode().rotate_left(turn)).expect("a telegram");
        prop_assert_eq!(read.code, telegram.code);
        prop_assert_eq!(AnimalCode::from_digits(&telegram.code.digits()), AnimalCode::new(country, national));
    }

    /// Every known form of any code is read as the code, and with one digit made a letter names nobody.
    #[test]
    fn any_code_is_read_in_every_form(country in 1u16..=999, national in 0u64..=274_877_906_943, extra in 0u32..10_000_000, form in 0usize..8, at: proptest::sample::Index) {
        let code = std::format!("{country:03}{national:012}");
        let (land, animal) = code.split_at(3);
        let line = match form {
            0 => code.clone(),
            1 => std::format!("{land} {animal}"),
            2 => std::format!("0{code}"),
            3 => std::format!("LA {land} {animal}"),
            4 => std::format!("LA {:05} {} {land} {animal}", extra % 100_000, extra % 2),
            5 => std::format!("A{extra:07}{code}"),
            6 => std::format!("1{extra:07}{code}"),
            _ => std::format!("A {:05} {} 0{land} {animal}", extra % 100_000, extra % 2),
        };
        prop_assert_eq!(parse_line(line.as_bytes()), AnimalCode::new(country, national).map_err(LineError::Code));
        let digits: Vec<usize> = line.bytes().enumerate().filter(|(_, b)| b.is_ascii_digit()).map(|(n, _)| n).collect();
        let mut spoilt = line.into_bytes();
        spoilt[digits[at.index(digits.len())]] = b'x';
        prop_assert_eq!(parse_line(&spoilt), Err(LineError::NotATag));
    }

    /// The stream parser against the whole-line parser on lines cut by hand.
    #[test]
    fn a_stream_of_anything_is_read_as_its_lines(bytes in proptest::collection::vec(prop_oneof![
        4 => proptest::sample::select(&b"0123456789"[..]), 1 => proptest::sample::select(&b"\r\n\x02\x03 LAR"[..]), 1 => any::<u8>()], 0..400)) {
        let ends = |byte: &u8| matches!(byte, b'\r' | b'\n' | 3);
        let printable = |byte: &u8| (b' '..=b'~').contains(byte);
        let mut expected = Vec::new();
        let whole = bytes.iter().rposition(ends).map_or(0, |last| last + 1);
        for line in bytes[..whole].split_inclusive(ends) {
            let line = &line[..line.len() - 1];
            let line = line.rsplit(|byte| *byte == 2).next().unwrap_or_default();
            let line = &line[line.iter().position(printable).unwrap_or(line.len())..];
            let text: Vec<u8> = line.iter().copied().filter(|byte| printable(byte)).collect();
            if line.iter().any(|byte| !printable(byte)) {
                expected.push(None);
            } else if text.len() > 48 {
                expected.push(Some(Err(LineError::TooLong)));
            } else if !text.trim_ascii().is_empty() {
                expected.push(Some(parse_line(&text)));
            }
        }
        // A spoilt line has one of two reasons; which comes first does not matter.
        let read: Vec<_> = lines(&bytes).into_iter().collect();
        prop_assert_eq!(read.len(), expected.len());
        for (read, expected) in read.into_iter().zip(expected) {
            match expected {
                Some(expected) => prop_assert_eq!(read, expected),
                None => prop_assert!(matches!(read, Err(LineError::Noise | LineError::TooLong))),
            }
        }
    }
}
