//! A row as it nearly always is, read in one go: `1769839200.010,160.2,154.8,145.0,-0.1`.

use crate::import::readings::rows::Timed;
use crate::import::value::{TimeReader, decimal};
use memchr::memchr;

/// The reading of a line of five fields without blanks and quotes; `None` where it is anything else, or faulty.
#[inline]
pub(super) fn row(line: &[u8], times: &mut TimeReader) -> Option<Timed> {
    let comma = memchr(b',', line)?;
    let time = times.quick(&line[..comma])?;
    let (mut rest, mut loads) = (&line[comma + 1..], [0.0; 4]);
    for (plate, load) in loads.iter_mut().enumerate() {
        let (value, length) = decimal::leading(rest)?;
        *load = value;
        let more = rest.get(length) == Some(&b',');
        if more != (plate < 3) {
            return None;
        }
        rest = &rest[length + usize::from(more)..];
    }
    Some((time, loads))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::import::readings::COLUMNS;
    use crate::import::readings::rows::parse;
    use crate::import::{NextRow, Problems, Table};
    use jiff::Timestamp;
    use proptest::prelude::*;

    /// 2026-03-01T00:00:00Z.
    const NOW: Timestamp = Timestamp::constant(1_772_323_200, 0);

    fn quick(line: &str) -> Option<Timed> {
        row(line.as_bytes(), &mut TimeReader::at(NOW))
    }

    /// The same line the slow way; `None` where it is faulty.
    fn slow(line: &str) -> Option<Timed> {
        let text = format!("time,lf,rf,lr,rr\n{line}\n");
        let mut problems = Problems::of("t.csv");
        let mut table = Table::open(text.as_bytes(), COLUMNS, &mut problems).unwrap()?;
        match table.next_or(&mut problems, |_| None::<()>).unwrap()? {
            NextRow::Row(row) => parse(&row, &mut TimeReader::at(NOW)).ok(),
            NextRow::Quick { .. } => None,
        }
    }

    #[test]
    fn a_usual_row_is_quick() {
        let loads = [160.2, 154.8, 145.0, -0.1];
        assert_eq!(quick("1769839200.010,160.2,154.8,145.0,-0.1"), Some((1_769_839_200_010_000, loads)));
        assert_eq!(
            quick("2026-01-31T06:00:00.01Z,160.2,154.8,145,-.1"),
            Some((1_769_839_200_010_000, loads))
        );
        for odd in
            ["", "1", "1,2,3,4", "1,2,3,4,5,", "1,2,3,4,5,6", "1, 2,3,4,5", "1,2,3,4,\"5\"", "1,2,,4,5"]
        {
            assert_eq!(quick(odd), None, "{odd}");
        }
    }

    fn bits(reading: Option<Timed>) -> Option<(i64, [u32; 4])> {
        reading.map(|(time, loads)| (time, loads.map(f32::to_bits)))
    }

    proptest! {
        #[test]
        fn what_is_quick_is_read_as_the_slow_way_reads_it(
            time in "17698392[0-9]{2}(\\.[0-9]{1,3})?|2026-01-31T0[0-9]:[0-6][0-9]:[0-9]{2}(\\.[0-9]{1,3})?Z?|[0-9.-]{0,12}",
            loads in prop::collection::vec("-?[0-9]{1,4}(\\.[0-9]{0,3})?|[0-9.e+-]{0,9}", 3..6),
        ) {
            let line = format!("{time},{}", loads.join(","));
            let quick = quick(&line);
            if quick.is_some() {
                prop_assert_eq!(bits(quick), bits(slow(&line)), "{}", line);
            }
        }
    }
}
