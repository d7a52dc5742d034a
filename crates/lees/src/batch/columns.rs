//! Tables that lie beside spectra are not spectra.

use std::ffi::OsStr;
use std::fs::File;
use std::io::Read;
use std::path::Path;

/// Endings that spectra share with tables and notes.
const SHARED_ENDINGS: [&str; 5] = ["txt", "csv", "tsv", "asc", "xy"];

/// Bytes looked at: room for any header, and some rows of numbers.
const LOOKED_AT: u64 = 16 << 10;

/// Whether a file met in a folder may be a spectrum: by its ending, or, when tables and notes share the ending, by a
/// line of nothing but numbers within the first 16 KiB. What cannot be read may be one, and is reported later.
///
/// ```
/// use lees::batch::may_be_spectrum;
/// let folder = std::env::temp_dir().join(format!("lees-columns-{}", std::process::id()));
/// std::fs::create_dir_all(&folder)?;
/// std::fs::write(folder.join("sheet.csv"), "file,product\na.jdx,dye.toml\n")?;
/// std::fs::write(folder.join("spectrum.csv"), "ppm,intensity\n12.0,3.5\n11.9,3.6\n")?;
/// assert!(!may_be_spectrum(&folder.join("sheet.csv")));
/// assert!(may_be_spectrum(&folder.join("spectrum.csv")));
/// # std::fs::remove_dir_all(&folder)?;
/// # Ok::<(), std::io::Error>(())
/// ```
#[must_use]
pub fn may_be_spectrum(path: &Path) -> bool {
    let ending = path.extension().and_then(OsStr::to_str).unwrap_or_default().to_ascii_lowercase();
    if !SHARED_ENDINGS.contains(&ending.as_str()) {
        return true;
    }
    let mut start = Vec::new();
    let read = File::open(path).and_then(|file| file.take(LOOKED_AT).read_to_end(&mut start));
    if read.is_err() {
        return true;
    }
    let text = String::from_utf8_lossy(&start);
    text.trim_start().starts_with("##") || text.lines().any(is_numbers)
}

fn is_numbers(line: &str) -> bool {
    let mut fields =
        line.split(|c: char| c.is_whitespace() || c == ',' || c == ';').filter(|f| !f.is_empty()).peekable();
    fields.peek().is_some() && fields.all(|field| field.parse::<f64>().is_ok())
}
