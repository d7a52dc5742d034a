//! One thread's share: bytes to outcomes.

use std::collections::HashMap;
use std::collections::hash_map::Entry;
use std::path::Path;

use lees::Checker;
use lees::batch::{Source, unpacked};
use lees_core::check::Check;
use lees_core::rack::Tags;

use super::outcome::page;
use super::{Outcome, Plan, Want};
use crate::trace;

/// A worker with its own checker for each job, kept between inputs.
pub(crate) fn worker(plan: &Plan, want: Want) -> impl FnMut(&Source, &[u8], &str) -> Vec<Outcome> {
    let mut share = Share { plan, want, checkers: HashMap::new() };
    move |source, bytes, sha256| {
        let (mut outcomes, mut paged) = (Vec::new(), Vec::new());
        match source.path().filter(|_| want.unpack).and_then(|path| unpacked(path, bytes)) {
            Some(members) => members.for_each(|(member, content)| match content {
                Ok(bytes) => share.deal(&member, &bytes, &lees::sha256(&bytes), &mut outcomes, &mut paged),
                Err(why) => {
                    outcomes.push(Outcome::failed(&member.name(), sha256, &why, &plan.tags(source), want))
                }
            }),
            None => share.deal(source, bytes, sha256, &mut outcomes, &mut paged),
        }
        if want.page {
            Outcome::put_page(&mut outcomes, || page(&paged));
        }
        outcomes
    }
}

/// What a thread keeps between inputs.
struct Share<'p> {
    plan: &'p Plan,
    want: Want,
    checkers: HashMap<usize, Checker<'p>>,
}

impl<'p> Share<'p> {
    /// Adds the outcomes of one file, and when a page is wanted the results themselves.
    fn deal(
        &mut self,
        source: &Source,
        bytes: &[u8],
        sha256: &str,
        outcomes: &mut Vec<Outcome>,
        paged: &mut Vec<Check>,
    ) {
        let (name, tags, want) = (source.name(), self.plan.tags(source), self.want);
        let trace = self.plan.trace();
        let results = self.checker(source).and_then(|checker| checked(checker, bytes, &name, trace));
        let results = match results {
            Ok(results) => results,
            Err(fault) => {
                return outcomes.push(Outcome::failed(&name, sha256, &fault.to_string(), &tags, want));
            }
        };
        outcomes
            .extend(results.iter().enumerate().map(|(i, result)| one(&name, i, sha256, result, &tags, want)));
        if want.page {
            paged.extend(results.into_iter().flatten());
        }
    }

    /// The checker for an input's job, made when it is first needed.
    fn checker(&mut self, source: &Source) -> Result<&mut Checker<'p>, lees::Error> {
        let at = self.plan.job_of(source);
        Ok(match self.checkers.entry(at) {
            Entry::Occupied(kept) => kept.into_mut(),
            Entry::Vacant(place) => place.insert(Checker::new(&self.plan.jobs()[at])?),
        })
    }
}

/// Checks, and writes the intermediates on the way when they are asked for.
fn checked(
    checker: &mut Checker<'_>,
    bytes: &[u8],
    name: &str,
    trace: Option<&Path>,
) -> Result<Vec<Result<Check, String>>, lees::Error> {
    let words = |fault: lees::Error| fault.to_string();
    let Some(folder) = trace else {
        return Ok(checker.check(bytes, name)?.into_iter().map(|result| result.map_err(words)).collect());
    };
    let each = checker.traced(bytes, name)?.into_iter().map(|result| {
        let traced = result.map_err(words)?;
        trace::write(folder, &traced).map_err(|fault| fault.to_string())?;
        Ok(traced.check)
    });
    Ok(each.collect())
}

fn one(
    name: &str,
    index: usize,
    sha256: &str,
    result: &Result<Check, String>,
    tags: &Tags,
    want: Want,
) -> Outcome {
    match result {
        Ok(check) => Outcome::checked(check, tags, want),
        Err(fault) => Outcome::failed(&format!("{name}#{}", index + 1), sha256, fault, tags, want),
    }
}
