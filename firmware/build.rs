//! Hands the memory map and the linker script to the linker of the emulated board's image.

use std::{env, fs, path::PathBuf};

fn main() {
    println!("cargo::rerun-if-changed=memory.x");
    if env::var_os("CARGO_FEATURE_BOARD").is_none() {
        return;
    }
    let out = PathBuf::from(env::var_os("OUT_DIR").expect("cargo sets OUT_DIR"));
    fs::copy("memory.x", out.join("memory.x")).expect("memory.x can be copied");
    println!("cargo::rustc-link-search={}", out.display());
    for argument in ["-Tlink.x", "--nmagic"] {
        println!("cargo::rustc-link-arg-bin=mps2={argument}");
    }
}
