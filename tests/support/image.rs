//! What the image's file says of itself: sections, stack frames, and who calls whom.

use object::{Object, ObjectSection, SectionKind};
use std::{
    collections::{BTreeMap, BTreeSet},
    path::Path,
    process::Command,
};

/// What an interrupt puts on the stack by itself, floating-point registers included, bytes: 26 words, and one to
/// keep the stack aligned to eight (Armv7-M Architecture Reference Manual, B1.5.6; from memory).
const INTERRUPT_BYTES: u64 = 108;

/// An image taken apart.
pub struct Image {
    /// Bytes in the flash.
    pub flash: u64,
    /// Bytes of statics.
    pub static_ram: u64,
    functions: BTreeMap<u64, Function>,
}

#[derive(Default)]
struct Function {
    name: String,
    frame: u64,
    calls: BTreeSet<u64>,
}

impl Image {
    /// Takes an image of `firmware/build-image` apart.
    ///
    /// # Panics
    /// Where it is none.
    #[must_use]
    pub fn of(path: &Path) -> Self {
        let bytes = std::fs::read(path).expect("the image can be read");
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
        let mut functions = functions(path);
        let frames = file.section_by_name(".stack_sizes").expect("stack sizes").data().expect("data");
        for (address, frame) in frame_sizes(frames) {
            functions.entry(address).or_default().frame = frame;
        }
        Self { flash, static_ram, functions }
    }

    /// The largest stack frame, bytes, and whose it is.
    #[must_use]
    pub fn largest_frame(&self) -> (u64, &str) {
        self.functions
            .values()
            .map(|function| (function.frame, function.name.as_str()))
            .max()
            .unwrap_or_default()
    }

    /// The deepest stack that any chain of calls can make, and an interrupt on top of it, bytes. What functions
    /// written in assembly take is left out: the image has the reset's, which come to nothing.
    ///
    /// # Panics
    /// Where a function calls itself, so that there is no bound.
    #[must_use]
    pub fn stack_bound(&self) -> u64 {
        let depth = |name: &str| {
            let found = self.functions.iter().find(|(_, function)| function.name == name);
            self.depth(*found.expect("every image has it").0, &mut BTreeMap::new())
        };
        depth("Reset") + INTERRUPT_BYTES + depth("SysTick")
    }

    /// The chain of calls that is deepest, with each function's frame, bytes.
    ///
    /// # Panics
    /// As [`Self::stack_bound`].
    #[must_use]
    pub fn deepest_chain(&self) -> Vec<(u64, &str)> {
        let mut known = BTreeMap::new();
        let mut at =
            self.functions.iter().find(|(_, function)| function.name == "Reset").map(|found| *found.0);
        let mut chain = Vec::new();
        while let Some(function) = at.and_then(|address| self.functions.get(&address)) {
            chain.push((function.frame, function.name.as_str()));
            at = function.calls.iter().copied().max_by_key(|called| self.depth(*called, &mut known));
        }
        chain
    }

    fn depth(&self, address: u64, known: &mut BTreeMap<u64, Option<u64>>) -> u64 {
        let Some(function) = self.functions.get(&address) else { return 0 };
        match known.get(&address) {
            Some(Some(depth)) => return *depth,
            Some(None) => panic!("{} calls itself", function.name),
            None => known.insert(address, None),
        };
        let deepest = function.calls.iter().map(|called| self.depth(*called, known)).max().unwrap_or(0);
        known.insert(address, Some(function.frame + deepest));
        function.frame + deepest
    }

    /// Functions that call into the panic machinery.
    #[must_use]
    pub fn panicking(&self) -> BTreeSet<&str> {
        let with = |wanted: &dyn Fn(&str) -> bool| -> BTreeSet<u64> {
            self.functions.iter().filter(|(_, f)| wanted(&f.name)).map(|(address, _)| *address).collect()
        };
        let mut panics = with(&is_panic);
        let parts = with(&is_part);
        loop {
            let callers = self.functions.iter().filter(|(_, function)| !function.calls.is_disjoint(&panics));
            let callers: BTreeSet<u64> = callers.map(|(address, _)| *address).collect();
            let more: BTreeSet<u64> = callers.intersection(&parts).copied().collect();
            if more.is_subset(&panics) {
                let own = callers.difference(&panics);
                return own.map(|address| self.functions[address].name.as_str()).collect();
            }
            panics.extend(more);
        }
    }
}

/// Functions and whom they call, from the disassembly's lines: `address <name>:`, then `address: instruction target
/// <name>`, with `name+offset` where the target is within a function, and `address: .word value` where a function
/// holds another's address, to call it over a register.
fn functions(image: &Path) -> BTreeMap<u64, Function> {
    let done = Command::new("arm-none-eabi-objdump")
        .args(["--disassemble", "--demangle", "--no-show-raw-insn"])
        .arg(image)
        .output()
        .expect("arm-none-eabi-objdump runs");
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
    let hexadecimal = |word: &str| u64::from_str_radix(word, 16).ok();
    let mut functions: BTreeMap<u64, Function> = BTreeMap::new();
    let mut within = 0;
    for line in String::from_utf8(done.stdout).expect("text").lines() {
        if let Some((_, word)) = line.split_once(".word\t0x") {
            // The lowest bit of a function's address says that it is Thumb code.
            let called = hexadecimal(word).filter(|word| word & 1 == 1).map(|word| word - 1);
            functions.entry(within).or_default().calls.extend(called);
        }
        let Some((before, name)) = line.split_once(" <") else { continue };
        if let Some(name) = name.strip_suffix(">:") {
            within = hexadecimal(before).expect("an address");
            functions.entry(within).or_default().name = name.to_owned();
        } else if !name.contains("+0x")
            && let Some(target) = before.split_whitespace().last().and_then(hexadecimal)
        {
            functions.entry(within).or_default().calls.insert(target);
        }
    }
    functions
}

/// Entries of the section: the function's address in four bytes, then its frame as a varint.
fn frame_sizes(mut bytes: &[u8]) -> impl Iterator<Item = (u64, u64)> {
    std::iter::from_fn(move || {
        let (address, rest) = bytes.split_first_chunk::<4>()?;
        let (frame, rest) = postcard::take_from_bytes::<u64>(rest).ok()?;
        bytes = rest;
        // The lowest bit says that it is Thumb code.
        Some((u64::from(u32::from_le_bytes(*address) & !1), frame))
    })
}

/// Where all panics of `core` end up.
fn is_panic(name: &str) -> bool {
    ["core::panicking::", "::unwrap_failed", "::expect_failed", "::slice_index_fail", "::len_mismatch_fail"]
        .iter()
        .any(|part| name.contains(part))
}

/// Whether a function is part of those that call it: a piece of `core`, or one that the compiler cut out of several.
fn is_part(name: &str) -> bool {
    ["core::", "<core::", "OUTLINED_FUNCTION_"].iter().any(|start| name.starts_with(start))
        || name.starts_with("<[") && name.contains(" as core::")
}
