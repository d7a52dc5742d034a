//! One thread's share: bytes to outcomes.

use std::collections::HashMap;

use lees::Checker;
use lees::batch::Source;
use lees_core::rack::Tags;

use super::{Outcome, Plan, Want};

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
        match checker.check(bytes, &name) {
            Ok(results) => {
                let each = results.into_iter().enumerate();
                each.map(|(i, result)| one(&name, i, sha256, result, &tags, want)).collect()
            }
            Err(fault) => failed(fault.to_string()),
        }
    }
}

fn one(
    name: &str,
    index: usize,
    sha256: &str,
    result: Result<lees_core::check::Check, lees::Error>,
    tags: &Tags,
    want: Want,
) -> Outcome {
    match result {
        Ok(check) => Outcome::checked(&check, tags, want),
        Err(fault) => {
            Outcome::failed(&format!("{name}#{}", index + 1), sha256, &fault.to_string(), tags, want)
        }
    }
}
