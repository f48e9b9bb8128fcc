//! Lines of a file, whatever their ends, in one fixed buffer.

use memchr::memchr2;
use std::{
    io::{self, Read},
    ops::Range,
};

/// The longest line taken, bytes. Our choice: far above any row of a table.
pub const LONGEST_LINE: usize = 1 << 16;
const BUFFER: usize = 4 * LONGEST_LINE;

/// A line without its end.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Line<'a> {
    /// Its number, from 1.
    pub number: u64,
    /// Its bytes.
    pub bytes: &'a [u8],
    /// Whether it had an end; the last line of a file that was cut off has none.
    pub ended: bool,
    /// Whether it was too long, so that `bytes` is only its beginning.
    pub too_long: bool,
}

/// Reads lines that end in `\n`, `\r\n` or `\r`, mixed as they may be.
pub struct Lines<R> {
    input: R,
    buffer: Vec<u8>,
    start: usize,
    filled: usize,
    at_end: bool,
    number: u64,
    last: Range<usize>,
}

impl<R: Read> Lines<R> {
    /// Lines of an input.
    pub fn new(input: R) -> Self {
        Self { input, buffer: vec![0; BUFFER], start: 0, filled: 0, at_end: false, number: 0, last: 0..0 }
    }

    /// The first bytes of what comes next, as many as there are up to `wanted`.
    ///
    /// # Errors
    /// When the input cannot be read.
    pub fn peek(&mut self, wanted: usize) -> io::Result<&[u8]> {
        while self.filled - self.start < wanted && self.fill()? {}
        Ok(&self.buffer[self.start..self.filled.min(self.start + wanted)])
    }

    /// Passes over bytes that were peeked at.
    pub fn skip(&mut self, bytes: usize) {
        self.start = (self.start + bytes).min(self.filled);
    }

    /// The next line, blank or not.
    ///
    /// # Errors
    /// When the input cannot be read.
    pub fn next_line(&mut self) -> io::Result<Option<Line<'_>>> {
        let mut searched = 0;
        loop {
            let from = self.start + searched;
            if let Some(at) = memchr2(b'\n', b'\r', &self.buffer[from..self.filled]) {
                let end = from + at;
                // A `\r` as the last byte read may be half of a `\r\n`.
                if self.buffer[end] == b'\r' && end + 1 == self.filled {
                    searched = end - self.start;
                    if self.fill()? {
                        continue;
                    }
                    return Ok(Some(self.line(searched, 1, true, false)));
                }
                let pair = self.buffer[end] == b'\r' && self.buffer[end + 1] == b'\n';
                return Ok(Some(self.line(end - self.start, if pair { 2 } else { 1 }, true, false)));
            }
            searched = self.filled - self.start;
            if searched > LONGEST_LINE {
                self.pass_over_rest()?;
                return Ok(Some(self.line(0, 0, true, true)));
            }
            if !self.fill()? {
                return Ok((searched > 0).then(|| self.line(searched, 0, false, false)));
            }
        }
    }

    /// The bytes of the line handed out last.
    #[must_use]
    pub fn last(&self) -> &[u8] {
        &self.buffer[self.last.clone()]
    }

    fn line(&mut self, length: usize, end: usize, ended: bool, too_long: bool) -> Line<'_> {
        self.number += 1;
        let start = self.start;
        self.start += length + end;
        self.last = start..start + length;
        Line { number: self.number, bytes: &self.buffer[start..start + length], ended, too_long }
    }

    /// Leaves the next line's first byte at `start`.
    fn pass_over_rest(&mut self) -> io::Result<()> {
        loop {
            self.start = self.filled;
            if !self.fill()? {
                return Ok(());
            }
            if let Some(at) = memchr2(b'\n', b'\r', &self.buffer[self.start..self.filled]) {
                self.start += at + 1;
                if self.buffer[self.start - 1] == b'\r' && self.peek(1)?.first() == Some(&b'\n') {
                    self.start += 1;
                }
                return Ok(());
            }
        }
    }

    /// Reads more; says whether there was any. What was not yet handed out moves to the front of the buffer.
    fn fill(&mut self) -> io::Result<bool> {
        if self.at_end {
            return Ok(false);
        }
        if self.filled == self.buffer.len() || self.start == self.filled {
            self.buffer.copy_within(self.start..self.filled, 0);
            self.filled -= self.start;
            self.start = 0;
        }
        let length = loop {
            match self.input.read(&mut self.buffer[self.filled..]) {
                Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
                read => break read?,
            }
        };
        self.filled += length;
        self.at_end = length == 0;
        Ok(!self.at_end)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Gives at most `step` bytes a read.
    struct Drip<'a>(&'a [u8], usize);

    impl Read for Drip<'_> {
        fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
            let length = self.1.min(self.0.len()).min(buffer.len());
            buffer[..length].copy_from_slice(&self.0[..length]);
            self.0 = &self.0[length..];
            Ok(length)
        }
    }

    fn all(text: &[u8], step: usize) -> Vec<(u64, Vec<u8>, bool)> {
        let mut lines = Lines::new(Drip(text, step));
        let mut found = Vec::new();
        while let Some(line) = lines.next_line().unwrap() {
            found.push((line.number, line.bytes.to_vec(), line.ended));
        }
        found
    }

    proptest! {
        #[test]
        fn any_line_end_ends_a_line(
            rows in prop::collection::vec(("[a-z,]{0,9}", prop::sample::select(vec!["\n", "\r\n", "\r"])), 0..20),
            last in "[a-z]{0,5}",
            step in 1usize..20,
        ) {
            // A `\r` followed by an empty line that ends in `\n` cannot be told from `\r\n`.
            let ambiguous = rows.windows(2).any(|pair| pair[0].1 == "\r" && pair[1].0.is_empty());
            prop_assume!(!ambiguous);
            let mut text: String = rows.iter().map(|(row, end)| format!("{row}{end}")).collect();
            text.push_str(&last);
            let mut expected: Vec<_> = rows.iter().map(|(row, _)| (row.as_bytes().to_vec(), true)).collect();
            if !last.is_empty() {
                expected.push((last.as_bytes().to_vec(), false));
            }
            let found = all(text.as_bytes(), step);
            prop_assert_eq!(found.len(), expected.len());
            for (index, ((number, bytes, ended), (row, end))) in found.into_iter().zip(expected).enumerate() {
                prop_assert_eq!(number, index as u64 + 1);
                prop_assert_eq!(bytes, row);
                prop_assert_eq!(ended, end);
            }
        }
    }

    #[test]
    fn a_line_without_end_does_not_fill_the_memory() {
        let mut text = b"a\n".to_vec();
        text.extend(std::iter::repeat_n(b'x', 10 * BUFFER));
        text.extend(b"\r\nb\n");
        let mut lines = Lines::new(&text[..]);
        assert_eq!(lines.next_line().unwrap().unwrap().bytes, b"a");
        assert!(lines.next_line().unwrap().unwrap().too_long);
        let last = lines.next_line().unwrap().unwrap();
        assert_eq!((last.number, last.bytes), (3, &b"b"[..]));
        assert!(lines.buffer.len() == BUFFER);
    }
}
