//! Sealed frames: between a paired device and its host nothing else is heard.
//!
//! `WIRE.md` says how a connection is opened, and which bytes a sealed frame has.

use super::frame::{EncodeError, payload_of, stuff};
use super::message::{DeviceId, Message};
use crate::limits::{MAX_PAYLOAD_BYTES, MAX_SEALED_PAYLOAD_BYTES};
use chacha20poly1305::{
    ChaCha20Poly1305, KeyInit,
    aead::{AeadInOut, inout::InOutBuf},
};

/// The kind that a sealed payload has in place of its own.
pub const SEALED: u8 = 0xF0;
/// Bytes before what is sealed: sender, kind, counter.
const HEAD_BYTES: usize = 6;
/// Bytes of the tag after it.
const TAG_BYTES: usize = 16;

/// What a device and its host share, given once over the cable.
#[derive(Clone, Copy, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub struct LinkKey(pub [u8; 32]);

impl LinkKey {
    /// The key that takes a pairing back.
    pub const NONE: Self = Self([0; 32]);
}

/// A key is never printed.
impl core::fmt::Debug for LinkKey {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str("LinkKey")
    }
}

/// What both sides put into a connection; no connection of the same key has the same again.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Opening {
    /// Drawn by the host for this connection.
    pub host: [u8; 16],
    /// The device.
    pub device: DeviceId,
    /// Its boot.
    pub boot: u32,
    /// Connections opened in that boot before this one.
    pub count: u32,
}

/// The key of one connection, and how far each side has counted.
pub struct Sealed {
    cipher: ChaCha20Poly1305,
    /// Who we are: the first byte of our payloads.
    sender: u8,
    /// The next number of ours.
    next: u32,
    /// The lowest number of theirs that is still new.
    fresh: u32,
}

impl core::fmt::Debug for Sealed {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str("Sealed")
    }
}

impl Sealed {
    /// The connection as the side sees it that says messages of `M`.
    #[must_use]
    pub fn open<M: Message>(key: &LinkKey, opening: &Opening) -> Self {
        let mut device = [0; 16];
        let parts = opening.device.0.to_le_bytes().into_iter().chain(opening.boot.to_le_bytes());
        device.iter_mut().zip(parts.chain(opening.count.to_le_bytes())).for_each(|(to, from)| *to = from);
        let once = chacha20::hchacha::<chacha20::R20>(&key.0.into(), &opening.host.into());
        let key = chacha20::hchacha::<chacha20::R20>(&once, &device.into());
        Self { cipher: ChaCha20Poly1305::new(&key), sender: M::SENDER, next: 0, fresh: 0 }
    }

    fn nonce(sender: u8, number: u32) -> [u8; 12] {
        let [a, b, c, d] = number.to_le_bytes();
        [sender, 0, 0, 0, 0, 0, 0, 0, a, b, c, d]
    }

    /// Seals a message and frames it. Returns the frame's length.
    ///
    /// # Errors
    /// As [`Self::seal`].
    pub fn seal_message<M: Message>(&mut self, message: &M, out: &mut [u8]) -> Result<usize, EncodeError> {
        self.seal(payload_of(message, &mut [0; MAX_PAYLOAD_BYTES])?, out)
    }

    /// Seals a payload, from its sender to the end of its body, and frames it. Returns the frame's length.
    ///
    /// # Errors
    /// It is no payload of ours, or too long, or `out` is too short; after 2^32 frames the connection has to be opened
    /// anew.
    pub fn seal(&mut self, payload: &[u8], out: &mut [u8]) -> Result<usize, EncodeError> {
        let (&sender, inner) = payload.split_first().ok_or(EncodeError::TooLong)?;
        if sender != self.sender || payload.len() > MAX_PAYLOAD_BYTES || self.next == u32::MAX {
            return Err(EncodeError::TooLong);
        }
        let number = self.next;
        self.next += 1;
        let mut whole = [0; MAX_SEALED_PAYLOAD_BYTES];
        let (head, rest) = whole.split_first_chunk_mut::<HEAD_BYTES>().ok_or(EncodeError::TooLong)?;
        let [a, b, c, d] = number.to_le_bytes();
        *head = [sender, SEALED, a, b, c, d];
        let body = rest.get_mut(..inner.len()).ok_or(EncodeError::TooLong)?;
        body.copy_from_slice(inner);
        let nonce = Self::nonce(sender, number).into();
        let tag = self.cipher.encrypt_inout_detached(&nonce, head, InOutBuf::from(body));
        let tag = tag.map_err(|_| EncodeError::TooLong)?;
        let end = rest.get_mut(inner.len()..inner.len() + TAG_BYTES).ok_or(EncodeError::TooLong)?;
        end.copy_from_slice(&tag);
        let length = HEAD_BYTES + inner.len() + TAG_BYTES;
        stuff(whole.get(..length).ok_or(EncodeError::TooLong)?, out)
    }

    /// Opens a sealed payload where it lies; `None` where it is not the other side's, was changed, or came before.
    /// What is returned is a payload as it was before it was sealed.
    pub fn unseal<'p>(&mut self, payload: &'p mut [u8]) -> Option<&'p [u8]> {
        let (head, rest) = payload.split_first_chunk_mut::<HEAD_BYTES>()?;
        let [sender, SEALED, a, b, c, d] = *head else { return None };
        let number = u32::from_le_bytes([a, b, c, d]);
        if sender == self.sender || number < self.fresh {
            return None;
        }
        let (body, tag) = rest.split_last_chunk_mut::<TAG_BYTES>()?;
        let nonce = Self::nonce(sender, number).into();
        let opened =
            self.cipher.decrypt_inout_detached(&nonce, head, InOutBuf::from(&mut *body), &(*tag).into());
        opened.ok()?;
        self.fresh = number.checked_add(1)?;
        let length = body.len();
        // The sender's byte comes before what was sealed, as in every payload.
        *payload.get_mut(HEAD_BYTES - 1)? = sender;
        payload.get(HEAD_BYTES - 1..HEAD_BYTES + length)
    }
}

/// Whether a payload is sealed.
#[must_use]
pub fn is_sealed(payload: &[u8]) -> bool {
    matches!(payload, [_, SEALED, ..])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::limits::MAX_SEALED_FRAME_BYTES;
    use crate::wire::{DeviceMessage, Feed, FrameReader, HostMessage};

    const OPENING: Opening = Opening { host: [7; 16], device: DeviceId(42), boot: 3, count: 1 };

    fn ends(key: LinkKey, opening: Opening) -> (Sealed, Sealed) {
        (
            Sealed::open::<DeviceMessage>(&LinkKey([9; 32]), &OPENING),
            Sealed::open::<HostMessage>(&key, &opening),
        )
    }

    /// The payload in a frame.
    fn unstuffed(frame: &[u8]) -> std::vec::Vec<u8> {
        let mut reader = FrameReader::new();
        match reader.push(frame) {
            Feed::Frame { payload, .. } => payload.to_vec(),
            other => panic!("{other:?}"),
        }
    }

    fn sealed(end: &mut Sealed, payload: &[u8]) -> std::vec::Vec<u8> {
        let mut out = [0; MAX_SEALED_FRAME_BYTES];
        let length = end.seal(payload, &mut out).expect("fits");
        unstuffed(&out[..length])
    }

    #[test]
    fn what_is_sealed_is_opened_by_the_other_end_only_and_once() {
        let (mut device, mut host) = ends(LinkKey([9; 32]), OPENING);
        let mut frame = sealed(&mut device, b"D\x03hello");
        assert!(is_sealed(&frame) && !frame.windows(5).any(|part| part == b"hello"));
        let again = frame.clone();
        assert_eq!(device.unseal(&mut frame.clone()), None, "its own");
        assert_eq!(host.unseal(&mut frame), Some(&b"D\x03hello"[..]));
        assert_eq!(host.unseal(&mut again.clone()), None, "a second time");
        // One lost on the way does not stop the next.
        let _lost = sealed(&mut device, b"D\x04");
        assert_eq!(host.unseal(&mut sealed(&mut device, b"D\x05")), Some(&b"D\x05"[..]));
        // The other way the same numbers are others.
        assert_eq!(device.unseal(&mut sealed(&mut host, b"H\x01\x05\x09")), Some(&b"H\x01\x05\x09"[..]));
    }

    #[test]
    fn another_key_connection_or_byte_opens_nothing() {
        let others = [
            (LinkKey([8; 32]), OPENING),
            (LinkKey([9; 32]), Opening { host: [6; 16], ..OPENING }),
            (LinkKey([9; 32]), Opening { device: DeviceId(43), ..OPENING }),
            (LinkKey([9; 32]), Opening { boot: 4, ..OPENING }),
            (LinkKey([9; 32]), Opening { count: 2, ..OPENING }),
        ];
        for (key, opening) in others {
            let (mut device, mut host) = ends(key, opening);
            assert_eq!(host.unseal(&mut sealed(&mut device, b"D\x03")), None, "{opening:?}");
        }
        let (mut device, mut host) = ends(LinkKey([9; 32]), OPENING);
        let frame = sealed(&mut device, b"D\x03abc");
        for byte in 0..frame.len() {
            let mut changed = frame.clone();
            changed[byte] ^= 1;
            assert_eq!(host.unseal(&mut changed), None, "byte {byte}");
        }
        for length in 0..frame.len() {
            assert_eq!(host.unseal(&mut frame[..length].to_vec()), None, "cut at {length}");
        }
        assert_eq!(host.unseal(&mut frame.clone()), Some(&b"D\x03abc"[..]));
    }

    #[test]
    fn the_longest_payload_fits_and_a_longer_or_a_strange_one_is_refused() {
        let (mut device, mut host) = ends(LinkKey([9; 32]), OPENING);
        let mut longest = [0xFF; MAX_PAYLOAD_BYTES];
        longest[0] = b'D';
        assert_eq!(host.unseal(&mut sealed(&mut device, &longest)), Some(&longest[..]));
        let mut out = [0; MAX_SEALED_FRAME_BYTES];
        let longer = [b'D'; MAX_PAYLOAD_BYTES + 1];
        assert_eq!(device.seal(&longer, &mut out), Err(EncodeError::TooLong));
        assert_eq!(device.seal(b"H\x01", &mut out), Err(EncodeError::TooLong), "not ours");
        assert_eq!(device.seal(b"", &mut out), Err(EncodeError::TooLong));
        device.next = u32::MAX;
        assert_eq!(device.seal(b"D\x01", &mut out), Err(EncodeError::TooLong), "no number is left");
    }

    #[test]
    fn a_key_is_not_printed() {
        assert_eq!(std::format!("{:?}", LinkKey([1; 32])), "LinkKey");
    }
}
