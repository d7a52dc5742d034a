//! Takes outcomes in order: writes them, counts verdicts, keeps what the summary needs.

use std::path::Path;

use lees::batch::Done;
use lees_core::check::Verdict;
use lees_core::rack::{Brief, Tags};
use lees_report::tables::Rows;

use super::form::Form;
use super::progress::Progress;
use super::story::{Line, Story};
use super::target::Target;
use super::{Outcome, Plan, failed_row};
use crate::args::CheckArgs;
use crate::failure::{Ending, Failure};
use crate::{out, screen};

/// What is done with outcomes.
pub(super) struct Sink<'a> {
    form: Form,
    plan: &'a Plan,
    target: Target,
    story: Option<Story>,
    seen: Vec<bool>,
    tally: Tally,
}

impl<'a> Sink<'a> {
    pub(super) fn new(
        args: &CheckArgs,
        output: Option<&Path>,
        form: Form,
        plan: &'a Plan,
        inputs: usize,
    ) -> Result<Self, Failure> {
        let target = match form {
            Form::Text | Form::Objects => Target::words(output)?,
            Form::Table(rows, format) => Target::table(output, rows, format)?,
        };
        // A summary goes to standard output, where objects and rows must stand alone.
        let summed_up = match form {
            Form::Text => inputs > 1,
            Form::Objects => false,
            Form::Table(..) => output.is_some(),
        };
        Ok(Self {
            form,
            plan,
            target,
            story: summed_up.then(|| Story::new(screen::style(args.color))),
            seen: vec![false; plan.sheet_len()],
            tally: Tally { gate: args.gate, ..Tally::default() },
        })
    }

    /// Takes one input's outcomes.
    pub(super) fn take(&mut self, done: &Done<Vec<Outcome>>, progress: &Progress) -> Result<(), Failure> {
        self.mark_seen(done);
        match &done.result {
            Ok(outcomes) => outcomes.iter().try_for_each(|outcome| self.one(done, outcome, progress)),
            Err(why) => {
                let rows = match self.form {
                    Form::Table(Rows::Spectra, _) => failed_row(
                        &done.name,
                        done.sha256.as_deref(),
                        why,
                        &Tags::default(),
                        Some(Rows::Spectra),
                    ),
                    _ => Vec::new(),
                };
                self.one(done, &Outcome::Failed { why: why.clone(), rows }, progress)
            }
        }
    }

    fn one(
        &mut self,
        done: &Done<Vec<Outcome>>,
        outcome: &Outcome,
        progress: &Progress,
    ) -> Result<(), Failure> {
        match outcome {
            Outcome::Checked { brief, text, object, rows, .. } => {
                self.tally.count(brief.verdict);
                self.tell(|| Line::Checked(Box::new(Brief::clone(brief))));
                let words = if object.is_empty() { text } else { object };
                if words.is_empty() && rows.is_empty() {
                    return Ok(());
                }
                let put = progress.around(|| self.target.put(words, rows));
                self.heard(put)
            }
            Outcome::Failed { why, rows } => {
                self.tally.failed = true;
                progress.around(|| out::say(why));
                self.tell(|| Line::Failed(done.name.clone(), why.clone()));
                let put = self.target.put("", rows);
                self.heard(put)
            }
        }
    }

    /// With nobody reading any more there is nothing left to do, but for the gate's exit code.
    fn heard(&self, put: Result<(), Failure>) -> Result<(), Failure> {
        match put {
            Err(failure) if failure.is_closed() && self.tally.gate => Ok(()),
            other => other,
        }
    }

    fn tell(&mut self, line: impl FnOnce() -> Line) {
        if let Some(story) = &mut self.story {
            story.push(line());
        }
    }

    fn mark_seen(&mut self, done: &Done<Vec<Outcome>>) {
        let source = lees::batch::Source::File(done.name.clone().into());
        if let Some(seen) = self.plan.sheet_row(&source).and_then(|row| self.seen.get_mut(row)) {
            *seen = true;
        }
    }

    /// Ends files and prints the summary.
    pub(super) fn finish(self) -> Result<Ending, Failure> {
        match self.target.finish() {
            Err(failure) if failure.is_closed() && self.tally.gate => {}
            other => other?,
        }
        for path in self.plan.unused(&self.seen) {
            out::say(format!("{}: in the sheet, but not among the inputs checked", path.display()));
        }
        if let Some(story) = self.story {
            // Everything is checked and written: that nobody reads the summary changes nothing.
            match out::print(&story.told()) {
                Err(failure) if !failure.is_closed() => return Err(failure),
                _ => {}
            }
        }
        Ok(self.tally.ending())
    }
}

#[derive(Default)]
struct Tally {
    gate: bool,
    failed: bool,
    wet: bool,
    undecided: bool,
}

impl Tally {
    fn count(&mut self, verdict: Verdict) {
        match verdict {
            Verdict::Dry => {}
            Verdict::NeedsDrying => self.wet = true,
            Verdict::Undecided => self.undecided = true,
        }
    }

    /// A failed input outranks the gate: what was not checked cannot pass.
    fn ending(&self) -> Ending {
        match self {
            Self { failed: true, .. } => Ending::SomeFailed,
            Self { gate: true, wet: true, .. } => Ending::NeedsDrying,
            Self { gate: true, undecided: true, .. } => Ending::Undecided,
            _ => Ending::Well,
        }
    }
}
