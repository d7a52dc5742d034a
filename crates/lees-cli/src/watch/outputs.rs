//! Reports, rows and log lines of a watched folder.

use std::borrow::Cow;
use std::fs::{File, OpenOptions};
use std::io::Write;
use std::path::{Path, PathBuf};

use lees_report::tables::{Row, Rows, TableFormat, TableWriter};
use lees_report::terminal;

use super::ledger::Ledger;
use crate::batch::Outcome;
use crate::failure::Failure;
use crate::out;

/// Part of the name of every file written by a watch.
const MARK: &str = ".lees.";
/// The table of all files of a folder.
const TABLE: &str = "watch.lees.csv";

/// Whether a file was written by a watch.
pub(super) fn is_ours(path: &Path) -> bool {
    path.file_name().is_some_and(|name| name.to_string_lossy().contains(MARK))
}

/// Where results go.
pub(super) struct Outputs {
    folder: PathBuf,
    output: Option<PathBuf>,
    table: PathBuf,
}

impl Outputs {
    pub(super) fn new(folder: &Path, output: Option<&Path>, place: &Path) -> Self {
        Self { folder: folder.to_owned(), output: output.map(Path::to_owned), table: place.join(TABLE) }
    }

    /// Writes the table anew from the ledger, so that it has exactly one row for each spectrum known.
    pub(super) fn rewrite_table(&self, ledger: &mut Ledger) -> Result<(), Failure> {
        let mut table =
            TableWriter::new(Rows::Spectra, TableFormat::Csv, Vec::new()).map_err(Failure::input)?;
        ledger.rows(|row| table.push(row).map_err(Failure::input))?;
        out::write_file(&self.table, &table.finish().map_err(Failure::input)?)
    }

    /// Appends the rows of one file.
    pub(super) fn rows(&self, outcomes: &[Outcome]) -> Result<(), Failure> {
        let rows: Vec<&Row> = outcomes.iter().flat_map(Outcome::rows).collect();
        let mut table =
            TableWriter::new(Rows::Spectra, TableFormat::Csv, Vec::new()).map_err(Failure::input)?;
        rows.into_iter().try_for_each(|row| table.push(row)).map_err(Failure::input)?;
        let text = table.finish().map_err(Failure::input)?;
        let header = text.iter().position(|byte| *byte == b'\n').map_or(0, |at| at + 1);
        let mut file = self.open_table()?;
        file.write_all(text.get(header..).unwrap_or_default()).map_err(|fault| self.unwritable(&fault))
    }

    fn open_table(&self) -> Result<File, Failure> {
        OpenOptions::new().append(true).open(&self.table).map_err(|fault| self.unwritable(&fault))
    }

    fn unwritable(&self, fault: &std::io::Error) -> Failure {
        Failure::input(format!("{}: cannot write: {fault}", self.table.display()))
    }

    /// Writes the text, the JSON and, when it was drawn, the page of one file.
    pub(super) fn reports(&self, path: &Path, outcomes: &[Outcome]) -> Result<(), Failure> {
        let (mut text, mut objects) = (String::new(), String::new());
        for outcome in outcomes {
            match outcome {
                Outcome::Checked { text: words, object, page, .. } => {
                    text.push_str(words);
                    objects.push_str(object);
                    self.page(path, page.as_ref())?;
                }
                Outcome::Failed { why, .. } => text.push_str(&format!("FAILED  {why}\n")),
            }
        }
        out::write_file(&self.report(path, "txt")?, text.as_bytes())?;
        out::write_file(&self.report(path, "json")?, objects.as_bytes())
    }

    /// A page that could not be drawn costs a message, not the other reports.
    fn page(&self, path: &Path, page: Option<&Result<String, String>>) -> Result<(), Failure> {
        match page {
            Some(Ok(html)) => out::write_file(&self.report(path, "html")?, html.as_bytes()),
            Some(Err(fault)) => {
                out::say(format!("{}: no page: {fault}", path.display()));
                Ok(())
            }
            None => Ok(()),
        }
    }

    /// A file's name within the watched folder, the same however the folder was named.
    pub(super) fn name<'a>(&self, path: &'a Path) -> Cow<'a, str> {
        path.strip_prefix(&self.folder).unwrap_or(path).to_string_lossy()
    }

    /// `sub/a.jdx` as `sub/a.jdx.lees.txt`, beside the file or under the output folder.
    fn report(&self, path: &Path, ending: &str) -> Result<PathBuf, Failure> {
        let mut name = match &self.output {
            Some(output) => output.join(path.strip_prefix(&self.folder).unwrap_or(path)),
            None => path.to_owned(),
        }
        .into_os_string();
        name.push(MARK);
        name.push(ending);
        let report = PathBuf::from(name);
        if let Some(folder) = report.parent() {
            std::fs::create_dir_all(folder)
                .map_err(|fault| Failure::input(format!("{}: cannot make: {fault}", folder.display())))?;
        }
        Ok(report)
    }
}

/// One log line a spectrum.
pub(super) fn log(path: &Path, outcome: &Outcome) -> Result<(), Failure> {
    out::print(&match outcome {
        Outcome::Checked { brief, .. } => terminal::rack_line(brief),
        Outcome::Failed { why, .. } => format!("failed {}: {}\n", path.display(), lees_report::clean(why)),
    })
}
