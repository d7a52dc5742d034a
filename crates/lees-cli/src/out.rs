//! Everything that leaves the program: standard output, standard error, files.

use std::fmt::Display;
use std::io::{self, Write};
use std::path::Path;

use crate::failure::Failure;

/// Prints a block to standard output. A closed pipe is told apart: the reader has seen enough.
pub(crate) fn print(text: &str) -> Result<(), Failure> {
    let mut stdout = io::stdout().lock();
    match stdout.write_all(text.as_bytes()).and_then(|()| stdout.flush()) {
        Err(fault) if fault.kind() == io::ErrorKind::BrokenPipe => Err(Failure::closed()),
        other => other.map_err(|fault| Failure::input(format!("standard output: {fault}"))),
    }
}

/// Says something on standard error. If even that is closed, nobody is listening.
pub(crate) fn say(message: impl Display) {
    let _ = writeln!(io::stderr().lock(), "lees: {message}");
}

/// Writes a file aside and renames it, so that a file under its final name is always whole.
pub(crate) fn write_file(path: &Path, bytes: &[u8]) -> Result<(), Failure> {
    let fault = |fault: io::Error| Failure::input(format!("{}: cannot write: {fault}", path.display()));
    let folder = match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    };
    let mut aside = tempfile::Builder::new().prefix(".lees-").tempfile_in(folder).map_err(fault)?;
    aside.write_all(bytes).map_err(fault)?;
    aside.as_file().sync_all().map_err(fault)?;
    make_readable(aside.as_file()).map_err(fault)?;
    aside.persist(path).map_err(|failed| fault(failed.error))?;
    Ok(())
}

/// Temporary files start private; a result should have the rights of any new file.
#[cfg(unix)]
fn make_readable(file: &std::fs::File) -> io::Result<()> {
    use std::os::unix::fs::PermissionsExt;
    file.set_permissions(std::fs::Permissions::from_mode(0o644))
}

#[cfg(not(unix))]
fn make_readable(_: &std::fs::File) -> io::Result<()> {
    Ok(())
}
