//! A new program in parts: what is taken, what is refused, and what then lies in the second slot.

use super::*;
use crate::fakes::FailingFlash;
use std::{vec, vec::Vec};

const PAGE: u32 = 4_096;
/// Bytes of the first slot.
const SLOT: u32 = 2 * PAGE;
/// The longest program that goes into it.
const ROOM: u32 = SLOT - TRAILER_BYTES;
const BOARD: &str = "a-board";

fn layout() -> Layout {
    Layout::with_second::<FailingFlash>(20 * PAGE, SLOT).unwrap()
}

fn flash() -> FailingFlash {
    let mut flash = FailingFlash::new(20);
    // What lay there before.
    let second = layout().second;
    flash.bytes()[second.start as usize..second.end as usize].fill(0xA5);
    flash
}

fn program(bytes: u32) -> Vec<u8> {
    (0..bytes).map(|n| (n * 7 + n / 251) as u8).collect()
}

fn head(program: &[u8]) -> UpdateHead {
    UpdateHead { image: crc32(program), bytes: program.len() as u32, board: BOARD.try_into().unwrap() }
}

fn part(image: u32, at: u32, data: &[u8]) -> UpdatePart {
    UpdatePart { image, at, data: data.iter().copied().collect() }
}

/// Brings a program in, in parts of a full message.
fn bring(programs: &mut Programs, flash: &mut FailingFlash, program: &[u8]) -> Result<(), Refusal> {
    let head = head(program);
    programs.begin::<FailingFlash>(&head, BOARD)?;
    for (n, data) in program.chunks(MAX_TRACE_DATA_BYTES).enumerate() {
        programs.part(flash, &part(head.image, (n * MAX_TRACE_DATA_BYTES) as u32, data))?;
    }
    Ok(())
}

fn said(programs: &Programs) -> (UpdateStage, u32, u32) {
    let state = programs.state::<FailingFlash>(BOARD);
    assert_eq!((state.board.as_str(), state.room), (BOARD, ROOM));
    (state.stage, state.coming, state.next)
}

#[test]
fn programs_of_every_length_come_whole_and_are_told_of_at_the_end_of_their_slot() {
    // Shorter than a part, over the border of a page, up to it, and as long as can be.
    for length in [1, 224, 500, PAGE - 1, PAGE, PAGE + 1, ROOM] {
        let (mut flash, mut programs) = (flash(), Programs::closed(&layout()));
        programs.start(&mut flash);
        let program = program(length);
        bring(&mut programs, &mut flash, &program).unwrap();
        assert_eq!(said(&programs), (UpdateStage::Ready, 0, 0), "{length}");
        let second = &flash.bytes()[layout().second.start as usize..];
        assert_eq!(&second[..length as usize], program, "{length}");
        let trailer: [u8; 32] = second[ROOM as usize..SLOT as usize].try_into().unwrap();
        assert_eq!(told(&trailer), Some((length, crc32(&program))));
        // What the next start finds: a program to be tried.
        programs.start(&mut flash);
        assert!(programs.on_trial());
    }
}

#[test]
fn the_version_is_the_crates() {
    assert_eq!(VERSION.map(|part| std::format!("{part}")).join("."), env!("CARGO_PKG_VERSION"));
    assert_eq!((number("0"), number("17"), number("255")), (0, 17, 255));
}

#[test]
fn a_trailer_is_known_by_its_own_check() {
    let whole = trailer(500, 0x1234_5678);
    assert_eq!(told(&whole), Some((500, 0x1234_5678)));
    for bit in 0..8 * SAID_BYTES {
        let mut other = whole;
        other[bit / 8] ^= 1 << (bit % 8);
        assert_eq!(told(&other), None, "bit {bit}");
    }
    assert_eq!(told(&[0xFF; 32]), None);
}

#[test]
fn a_program_that_cannot_run_here_is_refused() {
    let mut programs = Programs::closed(&layout());
    let good = head(&program(ROOM));
    let refused = [
        UpdateHead { bytes: ROOM + 1, ..good.clone() },
        UpdateHead { bytes: 0, ..good.clone() },
        UpdateHead { board: "another".try_into().unwrap(), ..good.clone() },
    ];
    for head in refused {
        assert_eq!(programs.begin::<FailingFlash>(&head, BOARD), Err(Refusal::BadUpdate), "{head:?}");
    }
    assert_eq!(programs.begin::<FailingFlash>(&good, BOARD), Ok(()));
    // Without a second slot there is no room at all.
    let mut none = Programs::closed(&Layout::of::<FailingFlash>(16 * PAGE).unwrap());
    let short = head(&program(1));
    assert_eq!(none.begin::<FailingFlash>(&short, BOARD), Err(Refusal::BadUpdate));
    assert_eq!(none.state::<FailingFlash>(BOARD).room, 0);
    none.start(&mut FailingFlash::new(16));
    assert_eq!(none.state::<FailingFlash>(BOARD).stage, UpdateStage::Settled);
}

#[test]
fn parts_that_come_again_or_too_soon_are_passed_over_and_the_answer_says_which_is_next() {
    let (mut flash, mut programs) = (flash(), Programs::closed(&layout()));
    let program = program(500);
    let head = head(&program);
    let first = part(head.image, 0, &program[..224]);
    programs.part(&mut flash, &first).unwrap();
    assert_eq!(said(&programs), (UpdateStage::Settled, 0, 0), "nothing was announced");
    programs.begin::<FailingFlash>(&head, BOARD).unwrap();
    programs.part(&mut flash, &part(head.image, 224, &program[224..448])).unwrap();
    assert_eq!(said(&programs), (UpdateStage::Settled, head.image, 0));
    programs.part(&mut flash, &first).unwrap();
    programs.part(&mut flash, &first).unwrap();
    programs.part(&mut flash, &part(head.image + 1, 224, &program[224..448])).unwrap();
    assert_eq!(said(&programs), (UpdateStage::Settled, head.image, 224));
    // The same program goes on where it was, another begins anew.
    programs.begin::<FailingFlash>(&head, BOARD).unwrap();
    assert_eq!(said(&programs).2, 224);
    programs.begin::<FailingFlash>(&UpdateHead { image: head.image + 1, ..head }, BOARD).unwrap();
    assert_eq!(said(&programs), (UpdateStage::Settled, head.image + 1, 0));
    programs.forget();
    assert_eq!(said(&programs), (UpdateStage::Settled, 0, 0));
}

#[test]
fn parts_that_make_no_sense_end_it() {
    let program = program(300);
    let head = head(&program);
    for (at, data) in [(0, vec![]), (0, vec![1; 224]), (224, vec![1; 77])] {
        let (mut flash, mut programs) = (flash(), Programs::closed(&layout()));
        programs
            .begin::<FailingFlash>(&UpdateHead { bytes: 300.min(at + 223), ..head.clone() }, BOARD)
            .unwrap();
        if at > 0 {
            programs.begin::<FailingFlash>(&head, BOARD).unwrap();
            programs.part(&mut flash, &part(head.image, 0, &program[..224])).unwrap();
        }
        let refused = programs.part(&mut flash, &part(head.image, at, &data));
        assert_eq!(refused, Err(Refusal::BadUpdate), "{at}: {} bytes", data.len());
        assert_eq!(said(&programs), (UpdateStage::Settled, 0, 0));
    }
}

#[test]
fn a_program_that_is_not_as_announced_is_not_tried() {
    let (mut flash, mut programs) = (flash(), Programs::closed(&layout()));
    let program = program(500);
    let mut other = program.clone();
    other[499] ^= 1;
    let head = head(&program);
    programs.begin::<FailingFlash>(&head, BOARD).unwrap();
    for at in [0, 224] {
        programs.part(&mut flash, &part(head.image, at, &other[at as usize..][..224])).unwrap();
    }
    let refused = programs.part(&mut flash, &part(head.image, 448, &other[448..]));
    assert_eq!(refused, Err(Refusal::BadUpdate));
    programs.start(&mut flash);
    assert_eq!(said(&programs), (UpdateStage::Settled, 0, 0));
}

#[test]
fn a_flash_that_fails_ends_it_and_it_can_begin_again() {
    let (mut flash, mut programs) = (flash(), Programs::closed(&layout()));
    let program = program(300);
    programs.begin::<FailingFlash>(&head(&program), BOARD).unwrap();
    flash.die_after(10);
    let refused = programs.part(&mut flash, &part(crc32(&program), 0, &program[..224]));
    assert_eq!(refused, Err(Refusal::NotStored));
    flash.revive();
    bring(&mut programs, &mut flash, &program).unwrap();
    assert!(programs.ready());
}

#[test]
fn while_one_is_on_trial_or_waits_for_it_none_other_comes() {
    let (mut flash, mut programs) = (flash(), Programs::closed(&layout()));
    let program = program(300);
    bring(&mut programs, &mut flash, &program).unwrap();
    assert_eq!(programs.begin::<FailingFlash>(&head(&program), BOARD), Err(Refusal::Busy));
    programs.start(&mut flash);
    assert_eq!(programs.begin::<FailingFlash>(&head(&program), BOARD), Err(Refusal::Busy));
    // Where the flash fails it stays on trial, and is asked again.
    flash.die_after(0);
    programs.settle(&mut flash);
    assert!(programs.on_trial());
    flash.revive();
    programs.settle(&mut flash);
    assert_eq!(said(&programs), (UpdateStage::Settled, 0, 0));
    programs.start(&mut flash);
    assert_eq!(said(&programs), (UpdateStage::Settled, 0, 0), "and so it is after the next start");
    assert_eq!(programs.begin::<FailingFlash>(&head(&program), BOARD), Ok(()));
}
