//! Hands the memory map and the linker script to the linker of the emulated board's image.

use std::{env, fs, path::PathBuf};

fn main() {
    println!("cargo::rerun-if-changed=memory.x");
    if env::var_os("CARGO_FEATURE_BOARD").is_none() {
        return;
    }
    let out = PathBuf::from(env::var_os("OUT_DIR").expect("cargo sets OUT_DIR"));
    let map = fs::read_to_string("memory.x").expect("memory.x can be read");
    // Code for the smallest processors, which have no floats of their own, is longer; it is only counted.
    let small = env::var("TARGET").is_ok_and(|target| target.starts_with("thumbv6m"));
    let map = if small { map.replace("LENGTH = 96K", "LENGTH = 192K") } else { map };
    fs::write(out.join("memory.x"), map).expect("memory.x can be written");
    println!("cargo::rustc-link-search={}", out.display());
    for argument in ["-Tlink.x", "--nmagic"] {
        println!("cargo::rustc-link-arg-bin=mps2={argument}");
    }
}
