//! `.gz` and `.zip`, unpacked within limits.

use std::io::{Cursor, Read};

use flate2::read::MultiGzDecoder;

use crate::clean::clean_text;
use crate::document::Block;
use crate::error::{ErrorKind, FormatError};
use crate::limits::Limits;
use crate::read::{Session, member};

/// Reads the file inside a `.gz`.
///
/// # Errors
/// When it is damaged, unpacks beyond the limits, or its content cannot be read.
pub(crate) fn gzip(
    bytes: &[u8],
    name: &str,
    session: &mut Session<'_>,
    depth: usize,
) -> Result<Vec<Block>, FormatError> {
    check_depth(depth, &session.options.limits)?;
    let content = unpack(MultiGzDecoder::new(bytes), bytes.len(), &session.options.limits)?;
    member(&content, name, session, depth + 1)
}

/// Reads all spectra inside a `.zip`; members that are none are named in a warning.
///
/// # Errors
/// When the archive is damaged or beyond the limits, or no member can be read.
pub(crate) fn zip(
    bytes: &[u8],
    name: &str,
    session: &mut Session<'_>,
    depth: usize,
) -> Result<Vec<Block>, FormatError> {
    let limits = session.options.limits;
    check_depth(depth, &limits)?;
    let mut archive = ::zip::ZipArchive::new(Cursor::new(bytes)).map_err(|e| damaged(&e.to_string()))?;
    if archive.len() > limits.members {
        let read = format!("an archive of {} files", archive.len());
        return Err(FormatError::new(ErrorKind::Limit, read, format!("at most {}", limits.members)));
    }
    let mut blocks = Vec::new();
    let mut first_error = None;
    for index in 0..archive.len() {
        let file = archive.by_index(index).map_err(|e| damaged(&e.to_string()))?;
        let inner = clean_text(file.name());
        if file.is_dir() || is_clutter(&inner) {
            continue;
        }
        let packed = usize::try_from(file.compressed_size()).unwrap_or(usize::MAX).min(bytes.len());
        let path = format!("{name}/{inner}");
        let read =
            unpack(file, packed, &limits).and_then(|content| member(&content, &path, session, depth + 1));
        match read {
            Ok(found) => blocks.extend(found),
            Err(error) if error.kind() == ErrorKind::Limit => return Err(error.in_file(&path)),
            Err(error) => {
                let error = error.in_file(&path);
                session.warnings.add(format!("not read: {error}"));
                first_error.get_or_insert(error);
            }
        }
    }
    match first_error {
        Some(error) if blocks.is_empty() => Err(error),
        None if blocks.is_empty() => {
            Err(FormatError::new(ErrorKind::Empty, "an archive without files", "spectra"))
        }
        _ => Ok(blocks),
    }
}

/// Files that systems put beside others.
fn is_clutter(path: &str) -> bool {
    path.starts_with("__MACOSX/") || path.rsplit('/').next().is_some_and(|file| file.starts_with('.'))
}

fn check_depth(depth: usize, limits: &Limits) -> Result<(), FormatError> {
    if depth < limits.archive_depth {
        return Ok(());
    }
    let read = "an archive inside archives";
    Err(FormatError::new(ErrorKind::Limit, read, format!("at most {} deep", limits.archive_depth)))
}

fn damaged(what: &str) -> FormatError {
    FormatError::new(ErrorKind::Damaged, format!("damaged archive ({})", clean_text(what)), "a whole archive")
}

/// Unpacks, growing only as content comes.
fn unpack(reader: impl Read, packed: usize, limits: &Limits) -> Result<Vec<u8>, FormatError> {
    let most =
        packed.saturating_mul(limits.unpack_ratio).max(limits.unpacked_free).min(limits.unpacked_bytes);
    let mut content = Vec::new();
    reader.take(most as u64 + 1).read_to_end(&mut content).map_err(|e| damaged(&e.to_string()))?;
    if content.len() > most {
        let read = format!("{packed} packed bytes unpack to more than {most}");
        return Err(FormatError::new(ErrorKind::Limit, read, "less, or a raised limit"));
    }
    Ok(content)
}
