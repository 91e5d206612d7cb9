//! Tells the linker where set-up put libvosk, and the program where to find it when it starts.

use std::path::PathBuf;

fn main() {
    println!("cargo:rerun-if-env-changed=VOSK_LIB_DIR");
    let root = PathBuf::from(std::env::var_os("CARGO_MANIFEST_DIR").expect("cargo sets it"));
    let dir = std::env::var_os("VOSK_LIB_DIR").map_or_else(|| root.join("models/fetched/vosk"), PathBuf::from);
    println!("cargo:rerun-if-changed={}", dir.join("libvosk.so").display());
    println!("cargo:rustc-link-search=native={}", dir.display());
    // $ORIGIN serves an installed copy with the library beside it or in ../lib; the folder itself serves development.
    println!("cargo:rustc-link-arg=-Wl,--disable-new-dtags,-rpath,$ORIGIN:$ORIGIN/../lib:{}", dir.display());
    if !dir.join("libvosk.so").exists() {
        println!("cargo:warning=libvosk.so is not in {}: run `bash models/setup.sh` first", dir.display());
    }
}
