//! One thread's share: bytes to outcomes.

use std::collections::HashMap;
use std::path::Path;

use lees::Checker;
use lees::batch::Source;
use lees_core::check::Check;
use lees_core::rack::Tags;

use super::outcome::page;
use super::{Outcome, Plan, Want};
use crate::trace;

/// A worker with its own checker for each job, kept between inputs.
pub(crate) fn worker(plan: &Plan, want: Want) -> impl FnMut(&Source, &[u8], &str) -> Vec<Outcome> {
    let mut checkers: HashMap<usize, Checker<'_>> = HashMap::new();
    move |source, bytes, sha256| {
        let (name, tags, at) = (source.name(), plan.tags(source), plan.job_of(source));
        let failed = |why: String| vec![Outcome::failed(&name, sha256, &why, &tags, want)];
        let checker = match checkers.entry(at) {
            std::collections::hash_map::Entry::Occupied(kept) => kept.into_mut(),
            std::collections::hash_map::Entry::Vacant(place) => match Checker::new(&plan.jobs()[at]) {
                Ok(checker) => place.insert(checker),
                Err(fault) => return failed(fault.to_string()),
            },
        };
        match checked(checker, bytes, &name, plan.trace()) {
            Ok(results) => {
                let drawn = want.page.then(|| page(&results));
                let each = results.into_iter().enumerate();
                let mut outcomes: Vec<_> =
                    each.map(|(i, result)| one(&name, i, sha256, result, &tags, want)).collect();
                if let Some(drawn) = drawn {
                    Outcome::put_page(&mut outcomes, drawn);
                }
                outcomes
            }
            Err(fault) => failed(fault.to_string()),
        }
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
    result: Result<Check, String>,
    tags: &Tags,
    want: Want,
) -> Outcome {
    match result {
        Ok(check) => Outcome::checked(&check, tags, want),
        Err(fault) => Outcome::failed(&format!("{name}#{}", index + 1), sha256, &fault, tags, want),
    }
}
