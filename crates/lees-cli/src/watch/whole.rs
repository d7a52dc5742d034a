//! Whether a file looks completely written.

use std::io::Cursor;
use std::path::Path;

/// Bytes at the end of a file among which its last label must stand.
const TAIL: usize = 512;

/// Whether nothing is obviously missing: a labelled file has its end label, an archive its directory. Plain text
/// carries no sign of its end.
pub(super) fn is_whole(path: &Path, bytes: &[u8]) -> bool {
    let ending = path.extension().map(|e| e.to_string_lossy().to_ascii_lowercase()).unwrap_or_default();
    match ending.as_str() {
        "zip" => zip::ZipArchive::new(Cursor::new(bytes)).is_ok(),
        "gz" => bytes.len() > 18,
        "jdx" | "dx" | "jcamp" | "jcm" | "jcamp-dx" => has_end_label(bytes),
        _ => !bytes.is_empty(),
    }
}

/// `##END=` (JCAMP-DX 4.24, 5.1), in any case, near the end.
fn has_end_label(bytes: &[u8]) -> bool {
    let tail = bytes.get(bytes.len().saturating_sub(TAIL)..).unwrap_or(bytes).to_ascii_uppercase();
    tail.windows(6).any(|window| window == b"##END=")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_end_is_looked_for_where_the_format_has_one() {
        for (name, bytes, whole) in [
            ("a.jdx", "##TITLE= a\n1 2 3\n##END=\n", true),
            ("a.DX", "##TITLE= a\n1 2 3\n##end= $$ bye\n\n", true),
            ("a.jdx", "##TITLE= a\n1 2 3", false),
            ("a.txt", "1 2\n", true),
            ("a.txt", "", false),
            ("a.zip", "PK\u{3}\u{4}", false),
        ] {
            assert_eq!(is_whole(Path::new(name), bytes.as_bytes()), whole, "{name}: {bytes}");
        }
    }
}
