//! How the columns of a text are separated and what they hold.

use crate::clean::decode;
use crate::error::{ErrorKind, FormatError};
use crate::lines::{Lines, trim};
use crate::options::{Column, ReadOptions};

/// Separator, decimal sign and meaning of the columns.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Layout {
    /// `None`: runs of blanks.
    pub delimiter: Option<char>,
    pub decimal_comma: bool,
    pub columns: Vec<Column>,
    /// Names over the columns, as many as there are columns.
    pub names: Option<Vec<String>>,
}

/// Rows looked at for the guess.
const LOOKED_AT: usize = 64;

impl Layout {
    /// Guesses what the options leave open.
    ///
    /// # Errors
    /// When no line looks like numbers, or there are more columns than can be told apart.
    pub(crate) fn guess(bytes: &[u8], options: &ReadOptions) -> Result<Self, FormatError> {
        let sample = sample(bytes);
        if sample.is_empty() {
            let read = match Lines::new(bytes, 1).find(|line| !trim(line.text).is_empty()) {
                Some(line) => format!("`{}`", crate::clean::sample(line.text)),
                None => "only blanks".to_owned(),
            };
            let error = FormatError::new(ErrorKind::NotText, read, "JCAMP-DX or columns of numbers");
            return Err(error.on_line(1));
        }
        let text = &options.text;
        let delimiter =
            text.delimiter.map_or_else(|| delimiter(&sample), |c| if c == ' ' { None } else { Some(c) });
        let decimal_comma = text.decimal_comma.unwrap_or_else(|| decimal_comma(&sample, delimiter));
        let mut layout = Self { delimiter, decimal_comma, columns: Vec::new(), names: None };
        let width = layout.width(&sample);
        layout.names = layout.names_above(bytes, width);
        layout.columns = match &text.columns {
            Some(columns) => columns.clone(),
            None => layout.meaning(width)?,
        };
        Ok(layout)
    }

    /// The fields of a line.
    pub(crate) fn fields<'t>(&self, line: &'t str) -> Vec<&'t str> {
        let unquoted = |field: &'t str| field.trim().trim_matches('"').trim();
        match self.delimiter {
            None => line.split_whitespace().map(unquoted).collect(),
            Some(delimiter) => {
                let line = line.trim_matches([' ', '\u{1a}']);
                let line = line.strip_suffix(delimiter).unwrap_or(line);
                line.split(delimiter).map(unquoted).collect()
            }
        }
    }

    /// One number as written; `None` when it is none, or not finite.
    pub(crate) fn number(&self, field: &str) -> Option<f64> {
        let plain = field.trim_start_matches(['+', '-']);
        if !plain.starts_with(|c: char| c.is_ascii_digit() || c == '.' || c == ',') {
            return None;
        }
        let value: f64 = if self.decimal_comma && field.contains(',') {
            if field.contains('.') {
                return None;
            }
            field.replacen(',', ".", 1).parse().ok()?
        } else {
            field.parse().ok()?
        };
        value.is_finite().then_some(value)
    }

    /// The commonest number of columns.
    fn width(&self, sample: &[String]) -> usize {
        let widths: Vec<usize> = sample.iter().map(|line| self.fields(line).len()).collect();
        let count = |width: usize| widths.iter().filter(|w| **w == width).count();
        widths.iter().copied().max_by_key(|width| count(*width)).unwrap_or(1)
    }

    /// The last line above the numbers, when it names each column.
    fn names_above(&self, bytes: &[u8], width: usize) -> Option<Vec<String>> {
        let mut names = None;
        for line in Lines::new(bytes, 1) {
            let text = decode(trim(line.text));
            if looks_like_numbers(&text) {
                return names;
            }
            let bare = text.trim_start_matches(super::header::COMMENT_SIGNS).trim();
            let bare = bare.strip_prefix("columns:").unwrap_or(bare).trim();
            let fields = self.fields(bare);
            let blank_fields: Vec<&str> = bare.split_whitespace().collect();
            let found = [fields, blank_fields].into_iter().find(|f| f.len() == width && width > 1);
            if let Some(found) = found {
                names = Some(found.into_iter().map(str::to_owned).collect());
            } else if !bare.is_empty() {
                names = None;
            }
        }
        names
    }

    fn meaning(&self, width: usize) -> Result<Vec<Column>, FormatError> {
        if let Some(columns) = self.names.as_deref().and_then(by_names) {
            return Ok(columns);
        }
        match width {
            1 => Ok(vec![Column::Real]),
            2 => Ok(vec![Column::X, Column::Real]),
            3 => Ok(vec![Column::X, Column::Real, Column::Imaginary]),
            _ => {
                let read = format!("{width} columns without names that tell what they hold");
                Err(FormatError::new(
                    ErrorKind::Missing,
                    read,
                    "one to three columns, or the columns named by hand",
                ))
            }
        }
    }

    /// The guess, for the reader of the report.
    pub(crate) fn in_words(&self) -> String {
        let separator = match self.delimiter {
            None => "blanks",
            Some('\t') => "tabs",
            Some(';') => "semicolons",
            Some(',') => "commas",
            Some(_) => "the given sign",
        };
        let names = self.columns.iter().map(|column| match column {
            Column::X => "abscissa",
            Column::Real => "real part",
            Column::Imaginary => "imaginary part",
            Column::Skip => "skipped",
        });
        let decimal = if self.decimal_comma { ", decimal commas" } else { "" };
        format!(
            "plain text read as columns ({}) between {separator}{decimal}",
            names.collect::<Vec<_>>().join(", ")
        )
    }
}

/// Lines that consist of signs of numbers only.
fn sample(bytes: &[u8]) -> Vec<String> {
    let lines = Lines::new(bytes, 1).filter_map(|line| {
        const LONGEST: usize = 1000;
        let text = trim(line.text);
        (!text.is_empty() && text.len() <= LONGEST).then(|| decode(text))
    });
    lines.filter(|text| looks_like_numbers(text)).take(LOOKED_AT).collect()
}

/// Whether a line has digits and nothing that numbers and their separators do not have.
fn looks_like_numbers(text: &str) -> bool {
    let allowed = |c: char| c.is_ascii_digit() || "+-.,;eEdD \t\"\u{1a}".contains(c);
    let start = text.trim_start_matches(['"', ' ', '\t']).trim_start_matches(['+', '-']);
    start.starts_with(|c: char| c.is_ascii_digit() || c == '.' || c == ',') && text.chars().all(allowed)
}

fn delimiter(sample: &[String]) -> Option<char> {
    let all = |test: &dyn Fn(&str) -> bool| sample.iter().all(|line| test(line.trim()));
    if all(&|line| line.contains('\t')) {
        return Some('\t');
    }
    if all(&|line| line.contains(';')) {
        return Some(';');
    }
    let commas = all(&|line| line.contains(','));
    // `11,94 46,9`: blanks separate, commas are decimal. `11.94, 46.9`: commas separate.
    let inner =
        all(&|line| line.split_whitespace().count() > 1 && !line.contains(", ") && !line.contains(" ,"));
    if commas && !inner { Some(',') } else { None }
}

fn decimal_comma(sample: &[String], delimiter: Option<char>) -> bool {
    delimiter != Some(',')
        && sample.iter().any(|line| line.contains(','))
        && !sample.iter().any(|line| line.contains('.'))
}

/// Meaning from names such as `ppm`, `time_s`, `real`, `imag`; `None` when they do not tell.
fn by_names(names: &[String]) -> Option<Vec<Column>> {
    let mut columns: Vec<Column> = names.iter().map(|name| by_name(name)).collect();
    let count = |columns: &[Column], which: Column| columns.iter().filter(|c| **c == which).count();
    if count(&columns, Column::Real) == 0
        && let Some(free) = columns.iter_mut().find(|c| **c == Column::Skip)
    {
        *free = Column::Real;
    }
    let sound = count(&columns, Column::Real) == 1
        && count(&columns, Column::X) <= 1
        && count(&columns, Column::Imaginary) <= 1
        && (count(&columns, Column::X) == 1 || names.len() == 1);
    sound.then_some(columns)
}

fn by_name(name: &str) -> Column {
    let lower = name.to_lowercase();
    let words: Vec<&str> = lower.split(|c: char| !c.is_alphanumeric()).filter(|w| !w.is_empty()).collect();
    let has = |list: &[&str]| words.iter().any(|word| list.contains(word));
    if has(&["imag", "imaginary", "im", "imaginär"]) {
        Column::Imaginary
    } else if has(&[
        "real",
        "re",
        "intensity",
        "int",
        "y",
        "amplitude",
        "intensität",
        "intensities",
        "signal",
    ]) {
        Column::Real
    } else if has(&[
        "ppm",
        "hz",
        "khz",
        "shift",
        "frequency",
        "freq",
        "time",
        "x",
        "s",
        "sec",
        "seconds",
        "ms",
        "us",
    ]) {
        Column::X
    } else {
        Column::Skip
    }
}
