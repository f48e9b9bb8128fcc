//! What the image's file says of itself: sections, stack frames, and which functions can panic.

use object::{Object, ObjectSection, ObjectSymbol, SectionKind};
use std::{
    collections::{BTreeMap, BTreeSet},
    path::Path,
    process::Command,
};

/// Bytes that the image takes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sizes {
    /// In the flash.
    pub flash: u64,
    /// In the memory, stack not included.
    pub static_ram: u64,
    /// The largest stack frame, and whose it is.
    pub frame: (u64, String),
}

/// Measures an image.
///
/// # Panics
/// Where it is no image of `firmware/build-image`.
#[must_use]
pub fn sizes(image: &Path) -> Sizes {
    let bytes = std::fs::read(image).expect("the image can be read");
    let file = object::File::parse(&*bytes).expect("the image is an ELF file");
    let (mut flash, mut static_ram) = (0, 0);
    for section in file.sections() {
        match section.kind() {
            SectionKind::Text | SectionKind::ReadOnlyData => flash += section.size(),
            SectionKind::Data => {
                flash += section.size();
                static_ram += section.size();
            }
            SectionKind::UninitializedData => static_ram += section.size(),
            _ => {}
        }
    }
    let names: BTreeMap<u64, &str> = file
        .symbols()
        .filter_map(|symbol| {
            Some((symbol.address() & !1, symbol.name().ok().filter(|name| !name.starts_with('$'))?))
        })
        .collect();
    let frames = file.section_by_name(".stack_sizes").expect("stack sizes").data().expect("data");
    let frame = stack_frames(frames).max().expect("some function");
    let name = names.get(&(frame.1 & !1)).copied().unwrap_or_default();
    Sizes { flash, static_ram, frame: (frame.0, name.to_owned()) }
}

/// Entries of the section: the function's address in four bytes, then its frame as a varint.
fn stack_frames(mut bytes: &[u8]) -> impl Iterator<Item = (u64, u64)> {
    std::iter::from_fn(move || {
        let (address, rest) = bytes.split_first_chunk::<4>()?;
        let (frame, rest) = postcard::take_from_bytes::<u64>(rest).ok()?;
        bytes = rest;
        Some((frame, u64::from(u32::from_le_bytes(*address))))
    })
}

/// Functions of the image that call into the panic machinery.
///
/// # Panics
/// Where the image cannot be taken apart.
#[must_use]
pub fn panicking(image: &Path) -> BTreeSet<String> {
    let done = Command::new("arm-none-eabi-objdump")
        .args(["--disassemble", "--demangle", "--no-show-raw-insn"])
        .arg(image)
        .output()
        .expect("arm-none-eabi-objdump runs");
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
    let text = String::from_utf8(done.stdout).expect("text");
    let mut within = "";
    // Who calls whom, as the disassembly's lines have it: "address: instruction target <name>".
    let mut calls = Vec::new();
    for line in text.lines() {
        if let Some(name) = line.split_once('<').and_then(|(_, rest)| rest.strip_suffix(">:")) {
            within = name;
        } else if let Some((_, target)) = line.split_once('<') {
            calls.push((within, target.trim_end_matches('>')));
        }
    }
    assert!(!calls.is_empty(), "the image calls nothing");
    let mut panics: BTreeSet<&str> = calls.iter().map(|call| call.1).filter(|name| is_panic(name)).collect();
    loop {
        let more: Vec<&str> = calls
            .iter()
            .filter(|(caller, called)| panics.contains(called) && is_part(caller) && !panics.contains(caller))
            .map(|call| call.0)
            .collect();
        if more.is_empty() {
            break;
        }
        panics.extend(more);
    }
    let callers = calls.iter().filter(|(caller, called)| panics.contains(called) && !panics.contains(caller));
    callers.map(|(caller, _)| (*caller).to_owned()).collect()
}

/// Where all panics of `core` end up.
fn is_panic(name: &str) -> bool {
    ["core::panicking::", "::unwrap_failed", "::expect_failed", "::slice_index_fail", "::len_mismatch_fail"]
        .iter()
        .any(|part| name.contains(part) && !name.contains('+'))
}

/// Whether a function is part of those that call it: a piece of `core`, or one that the compiler cut out of several.
fn is_part(name: &str) -> bool {
    ["core::", "<core::", "OUTLINED_FUNCTION_"].iter().any(|start| name.starts_with(start))
        || name.starts_with("<[") && name.contains(" as core::")
}
