//! Tells the linker where libvosk lies, and the program where to find it when it starts.

use std::path::PathBuf;

fn main() {
    println!("cargo:rerun-if-env-changed=VOSK_LIB_DIR");
    println!("cargo:rerun-if-env-changed=STEPBELL_BUNDLE");
    let root = PathBuf::from(std::env::var_os("CARGO_MANIFEST_DIR").expect("cargo sets it"));
    let system = std::env::var("CARGO_CFG_TARGET_OS").expect("cargo sets it");
    let dir = std::env::var_os("VOSK_LIB_DIR").map_or_else(|| root.join("models/fetched/vosk"), PathBuf::from);
    let (library, beside) = match system.as_str() {
        "windows" => ("libvosk.dll", ""),
        "macos" => ("libvosk.dylib", "-Wl,-rpath,@loader_path"),
        _ => ("libvosk.so", "-Wl,--disable-new-dtags,-rpath,$ORIGIN:$ORIGIN/../lib"),
    };
    println!("cargo:rerun-if-changed={}", dir.join(library).display());
    println!("cargo:rustc-link-search=native={}", dir.display());
    // The library beside the program, or in ../lib, serves an installed copy. The folder itself serves development, and is no part of
    // what is given to others.
    let own = if std::env::var_os("STEPBELL_BUNDLE").is_some() { String::new() } else { format!(":{}", dir.display()) };
    match system.as_str() {
        // Windows looks beside the program by itself. The manifest makes its code page UTF-8: libvosk opens files by narrow names.
        "windows" => {
            embed_manifest::embed_manifest(embed_manifest::new_manifest("Stepbell")).expect("OUT_DIR can be written")
        }
        "macos" => println!("cargo:rustc-link-arg={beside}"),
        _ => println!("cargo:rustc-link-arg={beside}{own}"),
    }
    if !dir.join(library).exists() {
        println!("cargo:warning={library} is not in {}: run `bash models/setup.sh` first", dir.display());
    }
}
