//! Hands the memory map and the linker script to the linker.

use std::{env, path::PathBuf};

fn main() {
    println!("cargo::rerun-if-changed=memory.x");
    let folder = PathBuf::from(env::var_os("CARGO_MANIFEST_DIR").expect("cargo sets it"));
    println!("cargo::rustc-link-search={}", folder.display());
    for argument in ["-Tlink.x", "--nmagic"] {
        println!("cargo::rustc-link-arg-bins={argument}");
    }
}
