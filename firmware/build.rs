//! Hands the memory maps and the linker script to the linker of the emulated board's loader and image.

use std::{env, fs, path::PathBuf};

fn main() {
    println!("cargo::rerun-if-changed=memory.x");
    println!("cargo::rerun-if-changed=loader.x");
    if env::var_os("CARGO_FEATURE_BOARD").is_none() {
        return;
    }
    let out = PathBuf::from(env::var_os("OUT_DIR").expect("cargo sets OUT_DIR"));
    // Code for the smallest processors, which have no floats of their own, is longer; it is only counted.
    let small = env::var("TARGET").is_ok_and(|target| target.starts_with("thumbv6m"));
    for (bin, map) in [("mps2", "memory.x"), ("mps2-loader", "loader.x")] {
        let map = fs::read_to_string(map).expect("the memory map can be read");
        let map = if small { map.replace("LENGTH = 96K", "LENGTH = 192K - 32") } else { map };
        let folder = out.join(bin);
        fs::create_dir_all(&folder).expect("a folder can be made");
        fs::write(folder.join("memory.x"), map).expect("memory.x can be written");
        for argument in [format!("-L{}", folder.display()), "-Tlink.x".into(), "--nmagic".into()] {
            println!("cargo::rustc-link-arg-bin={bin}={argument}");
        }
    }
}
