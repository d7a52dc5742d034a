//! What was not found, with the content that would have been.

use lees_core::check::NotFound;

use super::{POWER, Sources, content, saturation, t1};
use crate::assign::bound::{ONE_SIDED, at_most};
use crate::assign::context::Context;
use crate::assign::probe::Assessment;
use crate::assign::search::Accepted;
use crate::fit::scene::Scene;
use crate::limits::Limits;
use crate::pattern::{Pattern, Role, is_among};
use crate::relaxation::T1;
use crate::table::Usage;
use crate::uncertainty::quadrature;

/// Something stands at a molecule's places when it amounts to more than this share of what would have been seen.
const STANDING: f64 = 0.5;

/// What may be there of a molecule that does not convince.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Nearly {
    /// Area of one proton of it, at most.
    pub amount: f64,
    /// Whether its probability is more than 5 %.
    pub probable: bool,
}

/// Factors that make up for saturation, by T1.
struct Saturations<'a> {
    sources: &'a Sources<'a>,
    known: Vec<(T1, (f64, f64))>,
}

impl Saturations<'_> {
    /// The likely factor, and the largest: its one-sided 95 % limit.
    fn of(&mut self, t1: T1) -> (f64, f64) {
        if let Some((_, known)) = self.known.iter().find(|(known, _)| *known == t1) {
            return *known;
        }
        let found = saturation(self.sources, t1);
        let relative = quadrature(found.effects.iter().map(|e| e.on_volatile - e.on_product));
        let factors = (found.factor, found.factor * (1.0 + ONE_SIDED * relative));
        self.known.push((t1, factors));
        factors
    }
}

/// Every volatile that was not named, with the content that would have been, by what is `left` of the lines. `nearly` tells what may be
/// there of a pattern although it does not convince.
pub(crate) fn not_found(
    sources: &Sources<'_>,
    left: &Scene<'_>,
    context: &Context,
    limits: &Limits,
    nearly: &mut dyn FnMut(usize) -> Nearly,
    weighed: &dyn Fn(usize, f64) -> f64,
) -> Vec<NotFound> {
    let named = |pattern: &Pattern| {
        let same = |a: &Accepted| sources.patterns[a.pattern].is_same_compound(pattern);
        sources.named.iter().any(same)
    };
    let compound = |pattern: &Pattern| pattern.compound_in(sources.tables);
    let usual = |pattern: &Pattern| {
        compound(pattern).is_some_and(|c| {
            c.usage == Usage::Daily
                || limits.own_names().any(|name| name == c.name)
                || is_among(c, &sources.settings.used)
        })
    };
    let known: Vec<(&Pattern, &Assessment)> =
        sources.named.iter().map(|n| (&sources.patterns[n.pattern], &n.found)).collect();
    let is_met = |pattern: &Pattern| compound(pattern).is_some_and(|c| c.usage != Usage::Rare);
    let mut saturations = Saturations { sources, known: Vec::new() };
    sources
        .patterns
        .iter()
        .enumerate()
        .filter(|(_, pattern)| pattern.role == Role::Volatile && !pattern.slow_exchange && !named(pattern))
        .map(|(index, pattern)| {
            let sigmas = context.least.significance + POWER;
            let (there, about) = at_most(left, pattern, context, &known, sigmas);
            let Nearly { amount: standing, probable } = nearly(index);
            // where a molecule has more than one line something stands at all its places by chance only seldom
            let lines = pattern.groups.iter().map(|g| g.sticks.len()).sum::<usize>();
            let stands = lines > 1 && standing > STANDING * there;
            let too_large =
                |at: f64| context.is_too_large(at) || sources.described.is_some_and(|d| d.is_too_large(at));
            let hides = || pattern.groups.iter().any(|g| too_large(left.position(g.expected)));
            let suspected = probable || (is_met(pattern) && (stands || hides()));
            let usual = usual(pattern) || suspected;
            let (mean, furthest) = compound(pattern).map_or((1.0, 1.0), |c| saturations.of(t1(sources, c)));
            let most = if usual { weighed(index, there) } else { there }.max(standing);
            // what was not seen may stand beside its place, under something else
            let seen = about.max(there).max(standing);
            NotFound {
                name: pattern.name.clone(),
                usual,
                detection_limit_wt_percent: content(sources, pattern, mean * seen),
                at_most_wt_percent: content(sources, pattern, furthest * most),
            }
        })
        .collect()
}
