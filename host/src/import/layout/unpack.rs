//! Packed and UTF-16 files as plain UTF-8.

use crate::import::Problems;
use encoding_rs_io::DecodeReaderBytes;
use flate2::read::MultiGzDecoder;
use std::io::{self, Chain, Cursor, Read};

/// The first bytes of an input, and all of it.
type Peeked<R> = (Vec<u8>, Chain<Cursor<Vec<u8>>, R>);

fn peek<R: Read>(mut input: R, bytes: usize) -> io::Result<Peeked<R>> {
    let mut first = Vec::with_capacity(bytes);
    input.by_ref().take(bytes as u64).read_to_end(&mut first)?;
    Ok((first.clone(), Cursor::new(first).chain(input)))
}

/// The text of an input.
pub(super) fn text(
    input: impl Read + Send + 'static,
    problems: &mut Problems,
) -> io::Result<Box<dyn Read + Send>> {
    let (first, input) = peek(input, 2)?;
    let unpacked: Box<dyn Read + Send> = if first == [0x1f, 0x8b] {
        problems.note("the file is packed (gzip) and was unpacked".to_owned());
        Box::new(MultiGzDecoder::new(input))
    } else {
        Box::new(input)
    };
    let (first, unpacked) = peek(unpacked, 2)?;
    if matches!(first[..], [0xff, 0xfe] | [0xfe, 0xff]) {
        problems.note("the file is UTF-16 and was read as such".to_owned());
        // The mark at the beginning says which byte comes first.
        return Ok(Box::new(DecodeReaderBytes::new(unpacked)));
    }
    Ok(Box::new(unpacked))
}
