//! Hands the memory maps and the linker script to the linker of each board's program and of its loader.

use std::{env, fs, path::PathBuf};

fn main() {
    let out = PathBuf::from(env::var_os("OUT_DIR").expect("cargo sets it"));
    let program = env::var("CARGO_PKG_NAME").expect("cargo sets it");
    let loader = program.replace("lane-", "loader-");
    for (bin, map) in [(program, "program.x"), (loader, "loader.x")] {
        println!("cargo::rerun-if-changed={map}");
        let folder = out.join(&bin);
        fs::create_dir_all(&folder).expect("a folder can be made");
        fs::copy(map, folder.join("memory.x")).expect("the memory map can be copied");
        for argument in [format!("-L{}", folder.display()), "-Tlink.x".into(), "--nmagic".into()] {
            println!("cargo::rustc-link-arg-bin={bin}={argument}");
        }
    }
}
