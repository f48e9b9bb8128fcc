//! Hands the memory maps and the linker script to the linker of the program and of its loader.

use std::{env, fs, path::PathBuf};

fn main() {
    let out = PathBuf::from(env::var_os("OUT_DIR").expect("cargo sets it"));
    for (bin, map) in [("lane-nrf52840", "program.x"), ("loader-nrf52840", "loader.x")] {
        println!("cargo::rerun-if-changed={map}");
        let folder = out.join(bin);
        fs::create_dir_all(&folder).expect("a folder can be made");
        fs::copy(map, folder.join("memory.x")).expect("the memory map can be copied");
        for argument in [format!("-L{}", folder.display()), "-Tlink.x".into(), "--nmagic".into()] {
            println!("cargo::rustc-link-arg-bin={bin}={argument}");
        }
    }
}
