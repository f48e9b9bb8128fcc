//! A paired device and the host that holds its key.

use super::*;
use crate::fakes::FakePort;
use shared::limits::MAX_FRAME_BYTES;
use std::vec::Vec;

const KEY: LinkKey = LinkKey([9; 32]);
const DEVICE: DeviceId = DeviceId(42);
const RANDOM: [u8; 16] = [7; 16];

fn paired() -> (Link<FakePort>, FakePort) {
    let port = FakePort::default();
    let mut link = Link::new(port.clone());
    link.pair(Some(KEY), DEVICE, 3);
    (link, port)
}

fn host_frame(message: &HostMessage) -> Vec<u8> {
    let mut frame = [0; MAX_FRAME_BYTES];
    let length = encode_frame(message, &mut frame).unwrap();
    frame[..length].to_vec()
}

/// The host's end of the connection that was opened as the one of this count.
fn host(count: u32) -> Sealed {
    Sealed::open::<HostMessage>(&KEY, &Opening { host: RANDOM, device: DEVICE, boot: 3, count })
}

fn open(link: &mut Link<FakePort>, port: &FakePort, count: u32) {
    port.put(&host_frame(&HostMessage::Open { random: RANDOM, count }));
    assert_eq!(link.receive(), Ok(None));
}

/// Whether the device hears what this host seals.
fn hears(link: &mut Link<FakePort>, port: &FakePort, host: &mut Sealed) -> bool {
    let mut frame = [0; MAX_SEALED_FRAME_BYTES];
    let length = host.seal_message(&HostMessage::GetSettings, &mut frame).unwrap();
    port.put(&frame[..length]);
    link.receive() == Ok(Some(HostMessage::GetSettings))
}

#[test]
fn only_an_opening_of_the_count_that_was_told_opens_and_only_once() {
    let (mut link, port) = paired();
    open(&mut link, &port, 1);
    assert!(link.is_locked() && !link.is_sealed(), "the next one's");
    open(&mut link, &port, 0);
    assert!(link.is_sealed());
    let mut first = host(0);
    assert!(hears(&mut link, &port, &mut first));
    // The same opening again changes nothing; the next one takes the place of the first.
    open(&mut link, &port, 0);
    assert!(hears(&mut link, &port, &mut first));
    open(&mut link, &port, 1);
    assert!(!hears(&mut link, &port, &mut first));
    assert!(hears(&mut link, &port, &mut host(1)));
}

#[test]
fn a_frame_of_the_journal_goes_out_sealed_and_none_while_nobody_has_the_key() {
    let (mut link, port) = paired();
    let message = DeviceMessage::Journal(5);
    let mut frame = [0; MAX_FRAME_BYTES];
    let length = encode_frame(&message, &mut frame).unwrap();
    link.send_frame(&frame[..length]);
    assert!(link.is_idle(), "locked");
    open(&mut link, &port, 0);
    link.send_frame(&frame[..length]);
    assert_eq!(link.push(), Ok(true));
    let (said, mut reader) = (port.take(), FrameReader::new());
    let Feed::Frame { payload, .. } = reader.push(&said) else { panic!("a frame") };
    let mut payload = payload.to_vec();
    assert!(is_sealed(&payload));
    let opened = host(0).unseal(&mut payload).map(decode::<DeviceMessage>);
    assert!(matches!(opened, Some(Decoded::Message(DeviceMessage::Journal(5)))), "{opened:?}");
    // What is no frame is not sent.
    link.send_frame(&frame[..length - 1]);
    assert!(link.is_idle());
}
