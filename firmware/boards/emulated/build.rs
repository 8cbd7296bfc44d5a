//! Gives the linker the memory map, for the bare target only.

use std::path::PathBuf;
use std::{env, fs, io};

fn main() -> io::Result<()> {
    println!("cargo:rerun-if-changed=memory.x");
    if env::var("CARGO_CFG_TARGET_OS").as_deref() != Ok("none") {
        return Ok(());
    }
    let out = PathBuf::from(env::var_os("OUT_DIR").unwrap_or_default());
    fs::copy("memory.x", out.join("memory.x"))?;
    println!("cargo:rustc-link-search={}", out.display());
    println!("cargo:rustc-link-arg-bins=--nmagic");
    println!("cargo:rustc-link-arg-bins=-Tlink.x");
    println!("cargo:rustc-link-arg-bins=-Tdefmt.x");
    Ok(())
}
