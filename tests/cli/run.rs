//! Runs the binary.

use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

/// The top of the source tree.
pub(crate) fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

/// A file of the demo.
pub(crate) fn demo(name: &str) -> String {
    root().join("demo-spectra").join(name).display().to_string()
}

/// The demo's product file.
pub(crate) fn product() -> String {
    demo("thiazolyl-coumarin.toml")
}

/// What a run gave.
pub(crate) struct Ran {
    pub(crate) code: i32,
    pub(crate) out: String,
    pub(crate) err: String,
}

/// Runs `lees` with the arguments, colourless, in the given folder.
pub(crate) fn lees_in(folder: &Path, args: &[&str]) -> Ran {
    let output: Output = Command::new(env!("CARGO_BIN_EXE_lees"))
        .args(args)
        .current_dir(folder)
        .env("LC_ALL", "C.UTF-8")
        .stdin(Stdio::null())
        .output()
        .expect("the binary starts");
    Ran {
        code: output.status.code().expect("it ends by itself"),
        out: String::from_utf8(output.stdout).expect("UTF-8"),
        err: String::from_utf8(output.stderr).expect("UTF-8"),
    }
}

/// Runs `lees` with the arguments.
pub(crate) fn lees(args: &[&str]) -> Ran {
    lees_in(&root(), args)
}
