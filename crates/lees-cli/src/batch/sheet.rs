//! The chemist's own list: which file is which fraction of what.

use std::collections::HashMap;
use std::path::{Path, PathBuf};

use lees::batch::Source;
use lees_core::rack::Tags;

use crate::failure::Failure;
use crate::request::text_file;

/// Columns, by the names they may go by (lower case, blanks as `_`, units in brackets or behind a slash).
const COLUMNS: [(&str, &[&str]); 6] = [
    ("file", &["file", "path", "spectrum"]),
    ("product", &["product", "product_file"]),
    ("drying time", &["drying_time", "drying_hours", "hours", "time"]),
    ("batch", &["batch"]),
    ("fraction", &["fraction"]),
    ("mass", &["mass", "mass_g"]),
];
const DRYING: usize = 2;
const MASS: usize = 5;

/// Units by their names, with what one of each is in the first: of a drying time and of a mass.
const HOURS: &[(&str, f64)] = &[
    ("h", 1.0),
    ("hr", 1.0),
    ("hrs", 1.0),
    ("hour", 1.0),
    ("hours", 1.0),
    ("min", 1.0 / 60.0),
    ("minutes", 1.0 / 60.0),
    ("d", 24.0),
    ("days", 24.0),
];
const GRAMS: &[(&str, f64)] = &[("g", 1.0), ("mg", 1e-3), ("kg", 1e3)];

/// One row of the sheet.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Entry {
    /// The spectrum, relative paths taken from the sheet's folder.
    pub(super) file: PathBuf,
    /// Its product file.
    pub(super) product: Option<PathBuf>,
    /// The rest.
    pub(super) tags: Tags,
}

/// The sheet.
#[derive(Debug)]
pub(super) struct Sheet {
    pub(super) entries: Vec<Entry>,
    by_path: HashMap<PathBuf, usize>,
    /// `None` where two rows have the same file name.
    by_name: HashMap<String, Option<usize>>,
}

impl Sheet {
    /// Reads a CSV sheet with a header; `file` must be there, the other columns may.
    pub(super) fn read(path: &Path) -> Result<Self, Failure> {
        let folder = path.parent().unwrap_or(Path::new(""));
        let text = text_file(path)?;
        parse(&text, folder).map_err(|fault| Failure::usage(format!("{}: {fault}", path.display())))
    }

    /// The row that speaks of a source: by path, else by file name when only one row has it.
    pub(super) fn position(&self, source: &Source) -> Option<usize> {
        let name = source.name();
        let by_path = self.by_path.get(&absolute(Path::new(&name))).copied();
        by_path.or_else(|| *self.by_name.get(&file_name(Path::new(&name)))?)
    }

    pub(super) fn find(&self, source: &Source) -> Option<&Entry> {
        self.entries.get(self.position(source)?)
    }

    fn new(entries: Vec<Entry>) -> Self {
        let by_path = entries.iter().enumerate().map(|(i, e)| (absolute(&e.file), i)).collect();
        let mut by_name = HashMap::new();
        for (i, entry) in entries.iter().enumerate() {
            by_name.entry(file_name(&entry.file)).and_modify(|at| *at = None).or_insert(Some(i));
        }
        Self { entries, by_path, by_name }
    }
}

/// The files of a sheet and their hours of drying.
pub(crate) fn drying_times(path: &Path) -> Result<(Vec<PathBuf>, Vec<f64>), Failure> {
    let each = Sheet::read(path)?.entries.into_iter().map(|entry| {
        let hours = entry.tags.drying_hours.ok_or_else(|| {
            let (sheet, file) = (path.display(), entry.file.display());
            Failure::usage(format!(
                "{sheet}: no drying time for {file}; allowed is a column `drying time`, in hours"
            ))
        })?;
        Ok((entry.file, hours))
    });
    each.collect()
}

fn absolute(path: &Path) -> PathBuf {
    let plain: PathBuf = path.components().filter(|c| !matches!(c, std::path::Component::CurDir)).collect();
    std::path::absolute(&plain).unwrap_or(plain)
}

fn file_name(path: &Path) -> String {
    path.file_name().unwrap_or_default().to_string_lossy().into_owned()
}

fn parse(text: &str, folder: &Path) -> Result<Sheet, String> {
    let mut reader =
        csv::ReaderBuilder::new().trim(csv::Trim::All).flexible(true).from_reader(text.as_bytes());
    let header = reader.headers().map_err(|fault| fault.to_string())?.clone();
    let places = places(&header)?;
    let (mut entries, mut met) = (Vec::new(), HashMap::new());
    for record in reader.records() {
        let record = record.map_err(|fault| fault.to_string())?;
        let line = record.position().map_or(0, csv::Position::line);
        if record.iter().any(|cell| !cell.is_empty()) {
            let new = entry(&record, &places, folder).map_err(|fault| format!("line {line}: {fault}"))?;
            for subject in subjects(&new) {
                if let Some(at) = met.insert(subject.clone(), line) {
                    let what = subject.words(&new);
                    return Err(format!("line {line}: {what} is in line {at} already"));
                }
            }
            entries.push(new);
        }
    }
    if entries.is_empty() {
        return Err("no rows below the header; each names a file".to_owned());
    }
    Ok(Sheet::new(entries))
}

/// What only one row may speak of: masses would count twice.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
enum Subject {
    File(PathBuf),
    /// Fraction, batch, and the bits of the hours of drying.
    Fraction(String, Option<String>, Option<u64>),
}

impl Subject {
    fn words(&self, entry: &Entry) -> String {
        match self {
            Self::File(_) => format!("`{}`", entry.file.display()),
            Self::Fraction(fraction, ..) => format!("fraction {fraction}"),
        }
    }
}

fn subjects(entry: &Entry) -> impl Iterator<Item = Subject> {
    let Tags { fraction, batch, drying_hours, .. } = &entry.tags;
    let fraction = fraction
        .clone()
        .map(|fraction| Subject::Fraction(fraction, batch.clone(), drying_hours.map(f64::to_bits)));
    std::iter::once(Subject::File(absolute(&entry.file))).chain(fraction)
}

/// A column: where it stands, and what one of its bare numbers is in hours or grams.
#[derive(Debug, Clone, Copy)]
struct Place {
    at: usize,
    unit: f64,
}

/// Where each of [`COLUMNS`] stands.
fn places(header: &csv::StringRecord) -> Result<[Option<Place>; 6], String> {
    let mut places = [None; 6];
    for (at, title) in header.iter().enumerate() {
        let mut parts = title.trim_start_matches('\u{feff}').splitn(2, ['(', '/', '[']);
        let plain = parts.next().unwrap_or_default().trim().to_lowercase().replace([' ', '-'], "_");
        let unit = parts.next().map(|rest| rest.trim_matches([' ', ')', ']', '/']));
        let known = COLUMNS.iter().position(|(_, names)| names.contains(&plain.as_str()));
        let column = known.ok_or_else(|| {
            let allowed: Vec<_> = COLUMNS.iter().map(|(name, _)| *name).collect();
            let comma = if title.contains(';') { "; columns are kept apart by commas" } else { "" };
            format!("line 1: column `{title}`; allowed are {}{comma}", allowed.join(", "))
        })?;
        let unit = unit.map_or(Ok(1.0), |unit| header_unit(column, title, unit))?;
        if places[column].replace(Place { at, unit }).is_some() {
            return Err(format!("line 1: two columns for {}", COLUMNS[column].0));
        }
    }
    places[0].ok_or("line 1: there is no column `file`")?;
    Ok(places)
}

/// What one of a column's bare numbers is in hours or grams, by the unit in its title.
fn header_unit(column: usize, title: &str, unit: &str) -> Result<f64, String> {
    let units = match column {
        DRYING => HOURS,
        MASS => GRAMS,
        _ => return Ok(1.0),
    };
    let known = units.iter().find(|(name, _)| name.eq_ignore_ascii_case(unit));
    known.map(|(_, size)| *size).ok_or_else(|| {
        let names: Vec<&str> = units.iter().map(|(name, _)| *name).collect();
        format!("line 1: column `{title}`: unit `{unit}`; allowed are {}", names.join(", "))
    })
}

fn entry(record: &csv::StringRecord, places: &[Option<Place>; 6], folder: &Path) -> Result<Entry, String> {
    let cell = |column: usize| places[column].and_then(|p| record.get(p.at)).filter(|cell| !cell.is_empty());
    let measured = |column: usize, units: &[(&str, f64)]| {
        let bare = places[column].map_or(1.0, |place| place.unit);
        cell(column).map(|text| number(text, COLUMNS[column].0, units, bare)).transpose()
    };
    let file = cell(0).ok_or("column `file` is empty")?;
    Ok(Entry {
        file: folder.join(file),
        product: cell(1).map(|path| folder.join(path)),
        tags: Tags {
            drying_hours: measured(DRYING, HOURS)?,
            batch: cell(3).map(str::to_owned),
            fraction: cell(4).map(str::to_owned),
            mass_g: measured(MASS, GRAMS)?,
        },
    })
}

/// A number of hours or grams; without a unit of its own it has that of its column, of which one is `bare` hours or grams.
fn number(text: &str, column: &str, units: &[(&str, f64)], bare: f64) -> Result<f64, String> {
    let digits = text.trim_end_matches(char::is_alphabetic);
    let own = text[digits.len()..].trim();
    let size = if own.is_empty() { Some(bare) } else { units.iter().find(|u| u.0 == own).map(|u| u.1) };
    let value = digits.trim().parse::<f64>().ok().filter(|x| x.is_finite() && *x >= 0.0);
    value.zip(size).map(|(value, size)| value * size).ok_or_else(|| {
        let unit = units[0].0;
        let point = if text.contains(',') { ", with a decimal point" } else { "" };
        format!("column `{column}`: read `{text}`; allowed is a number in {unit}{point}, not below 0")
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const SHEET: &str = "File,Product,Drying time (h),Batch,Fraction,Mass (g)\n\
        a/1.jdx,dye.toml,6,LD-7,4,1.25 g\n\n./b/2.jdx,,,,5,\nr.zip/f/3.jdx,,2 h,,6,0.5\n";

    fn file(path: &str) -> Source {
        Source::File(PathBuf::from(path))
    }

    #[test]
    fn rows_are_found_by_path_or_by_a_name_that_is_alone() {
        let sheet = parse(SHEET, Path::new("rack")).unwrap();
        let first = sheet.find(&file("rack/a/1.jdx")).unwrap();
        assert_eq!(first.product, Some(PathBuf::from("rack/dye.toml")));
        let tags = Tags {
            batch: Some("LD-7".into()),
            fraction: Some("4".into()),
            drying_hours: Some(6.0),
            mass_g: Some(1.25),
        };
        assert_eq!(first.tags, tags);
        assert_eq!(sheet.position(&file("./rack/b/2.jdx")), Some(1));
        assert_eq!(sheet.position(&file("elsewhere/2.jdx")), Some(1), "one row has that name");
        let member = Source::Member { archive: PathBuf::from("rack/r.zip"), member: "f/3.jdx".into() };
        assert_eq!(sheet.find(&member).unwrap().tags.drying_hours, Some(2.0));
        assert_eq!(sheet.position(&file("rack/9.jdx")), None);
        let twice = parse("file\na/1.jdx\nb/1.jdx\n", Path::new("")).unwrap();
        assert_eq!(twice.position(&file("c/1.jdx")), None);
        assert_eq!(twice.position(&file("b/1.jdx")), Some(1));
    }

    #[test]
    fn units_stand_in_the_title_or_in_the_cell() {
        let sheet =
            parse("file,mass (mg),drying time / min\na,1420,120\nb,1.42 g,2 h\n", Path::new("")).unwrap();
        for entry in &sheet.entries {
            assert_eq!((entry.tags.mass_g, entry.tags.drying_hours), (Some(1.42), Some(2.0)), "{entry:?}");
        }
    }

    #[test]
    fn mistakes_name_line_column_and_what_is_allowed() {
        for (text, message) in [
            (
                "name\na\n",
                "line 1: column `name`; allowed are file, product, drying time, batch, fraction, mass",
            ),
            (
                "file;mass\na;1\n",
                "line 1: column `file;mass`; allowed are file, product, drying time, batch, fraction, mass; columns are kept apart by \
                 commas",
            ),
            ("file,mass\n", "no rows below the header; each names a file"),
            (
                "file,mass\na,\"0,4\"\n",
                "line 2: column `mass`: read `0,4`; allowed is a number in g, with a decimal point, not below 0",
            ),
            ("batch\na\n", "line 1: there is no column `file`"),
            ("file,mass,mass (g)\n", "line 1: two columns for mass"),
            (
                "file,mass\na,1\nb,-1\n",
                "line 3: column `mass`: read `-1`; allowed is a number in g, not below 0",
            ),
            ("file,mass\n,1\n", "line 2: column `file` is empty"),
            ("file,mass (oz)\na,1\n", "line 1: column `mass (oz)`: unit `oz`; allowed are g, mg, kg"),
            ("file,mass\na,1\nb,2\n./a,1\n", "line 4: `./a` is in line 2 already"),
            ("file,fraction\na,4\nb,5\nc,4\n", "line 4: fraction 4 is in line 2 already"),
        ] {
            assert_eq!(parse(text, Path::new("")).unwrap_err(), message);
        }
    }
}
