//! Short decimals, which loads are: quick to read, and to the last bit what the general way gives.

/// Digits of which any number is a whole `f32`: 2^24 has eight.
const MOST_DIGITS: usize = 7;
/// Powers of ten, each a whole `f32`.
const TENS: [f32; MOST_DIGITS + 1] = [1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7];

/// A decimal of at most seven digits, without an exponent; `None` for any other text. Digits and power of ten are exact,
/// so that one division rounds to the nearest `f32` (Clinger 1990, "How to read floating point numbers accurately").
#[inline]
pub(super) fn short(text: &[u8]) -> Option<f32> {
    let (value, length) = leading(text)?;
    (length == text.len()).then_some(value)
}

/// The same at the beginning of a text, up to a comma or its end, with its length.
#[inline]
pub(in crate::import) fn leading(text: &[u8]) -> Option<(f32, usize)> {
    let negative = text.first() == Some(&b'-');
    let begin = usize::from(negative);
    let (mut digits, mut value, mut point, mut at) = (0, 0_u32, None, begin);
    while let Some(&byte) = text.get(at) {
        let digit = byte.wrapping_sub(b'0');
        if digit < 10 {
            digits += 1;
            if digits > MOST_DIGITS {
                return None;
            }
            value = value * 10 + u32::from(digit);
        } else if byte == b'.' && point.is_none() {
            point = Some(digits);
        } else if byte == b',' {
            break;
        } else {
            return None;
        }
        at += 1;
    }
    if digits == 0 {
        return None;
    }
    let decimals = point.map_or(0, |before| digits - before);
    #[allow(clippy::cast_precision_loss, reason = "at most seven digits")]
    let value = value as f32 / TENS[decimals];
    Some((if negative { -value } else { value }, at))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn odd_forms_are_left_to_the_general_way() {
        for text in ["", "-", ".", "-.", "+5", "1e3", "12345678", "1.2.3", " 5", "5 ", "nan", "5,", "--5"] {
            assert_eq!(short(text.as_bytes()), None, "{text}");
        }
        assert_eq!(leading(b"-12.5,7"), Some((-12.5, 5)));
        assert_eq!(short(b"5."), Some(5.0));
        assert_eq!(short(b"-.5"), Some(-0.5));
        assert_eq!(short(b"-0.0").map(f32::to_bits), Some((-0.0_f32).to_bits()));
    }

    proptest! {
        #[test]
        fn what_is_read_has_the_bits_of_the_general_way(text in "-?[0-9]{0,5}\\.?[0-9]{0,5}") {
            if let Some(value) = short(text.as_bytes()) {
                prop_assert_eq!(value.to_bits(), text.parse::<f32>().unwrap().to_bits());
            }
        }

        #[test]
        fn every_load_to_a_hundredth_is_short(hundredths in -999_999_i32..=999_999) {
            let text = format!("{:.2}", f64::from(hundredths) / 100.0);
            prop_assert_eq!(short(text.as_bytes()), Some(text.parse::<f32>().unwrap()));
        }
    }
}
