//! Gives the shared library its SONAME, so that programs ask for the ABI they were linked with.

/// Rises when, and only when, a program linked with the last library could no longer run with this one.
const SOVERSION: u32 = 0;

fn main() {
    println!("cargo::rerun-if-changed=build.rs");
    let os = std::env::var("CARGO_CFG_TARGET_OS").unwrap_or_default();
    if os == "linux" || os.ends_with("bsd") {
        println!("cargo::rustc-cdylib-link-arg=-Wl,-soname,libelbowroom.so.{SOVERSION}");
    }
}
