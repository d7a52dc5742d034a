//! A drying series from checked spectra.

use lees_core::check::{Check, Estimate};
use lees_match::drying::{Drying, DryingSettings, Point, drying};
use serde::Serialize;

use crate::Error;

/// One member of the series.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Member {
    /// The file.
    pub path: String,
    /// Hours since drying began.
    pub hours: f64,
    /// Content in wt%.
    pub wt_percent: Estimate,
}

/// A drying series with its forecast.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Series {
    /// `all volatiles`, or the one followed.
    pub of: String,
    /// The contents, in order of time.
    pub members: Vec<Member>,
    /// The limit in wt%, when one is set.
    pub limit_wt_percent: Option<f64>,
    /// Laws and forecast.
    pub drying: Drying,
}

/// The largest drying time that is believed, in hours: ten years.
const LONGEST_HOURS: f64 = 87_600.0;

/// Follows the sum, or one volatile, over the drying times (hours) of the checks.
///
/// # Errors
/// When the product was not described, the volatile is in none of the spectra and has no detection limit there, or
/// the times do not make a series.
///
/// ```
/// # mod made { include!(concat!(env!("CARGO_MANIFEST_DIR"), "/doc/wet_dye.rs")); }
/// # use made::*;
/// let (bytes, job) = (wet_dye(), dye_job()); // a JCAMP-DX file; its product, and a limit of 0.5 wt%
/// let check = lees::Checker::new(&job)?.check(&bytes, "wet-dye.jdx")?.remove(0)?;
/// // The same spectrum three times: nothing dries.
/// let series = lees::drying::series(&[(0.0, &check), (2.0, &check), (6.0, &check)], Some("2-propanol"))?;
/// assert_eq!((series.of.as_str(), series.members.len()), ("2-propanol", 3));
/// assert_eq!(series.members[2].hours, 6.0);
/// # Ok::<(), lees::Error>(())
/// ```
pub fn series(checks: &[(f64, &Check)], of: Option<&str>) -> Result<Series, Error> {
    let mut members = checks
        .iter()
        .map(|(hours, check)| {
            Ok(Member { path: check.input.path.clone(), hours: *hours, wt_percent: content(check, of)? })
        })
        .collect::<Result<Vec<_>, Error>>()?;
    members.sort_by(|a, b| a.hours.total_cmp(&b.hours));
    let points: Vec<Point> = members
        .iter()
        .map(|m| Point {
            hours: m.hours,
            wt_percent: m.wt_percent.value,
            u: m.wt_percent.u,
            high: m.wt_percent.high,
        })
        .collect();
    let limit = checks.iter().find_map(|(_, check)| limit(check, of));
    let drying = drying(&points, limit, &DryingSettings::default())
        .map_err(|fault| Error::Usage(fault.to_string()))?;
    Ok(Series { of: of.unwrap_or("all volatiles").to_owned(), members, limit_wt_percent: limit, drying })
}

fn limit(check: &Check, of: Option<&str>) -> Option<f64> {
    match of {
        None => check.total.limit_wt_percent,
        Some(name) => check.volatiles.iter().find(|f| f.name == name)?.limit_wt_percent,
    }
}

fn content(check: &Check, of: Option<&str>) -> Result<Estimate, Error> {
    let found = match of {
        None => check.total.wt_percent,
        Some(name) => {
            let finding = check.volatiles.iter().find(|f| f.name == name);
            finding.ok_or_else(|| not_seen(check, name))?.wt_percent
        }
    };
    found.ok_or_else(|| {
        Error::Usage("a drying series needs the product described, for contents in wt%".to_owned())
    })
}

fn not_seen(check: &Check, name: &str) -> Error {
    Error::Usage(format!(
        "{}: {name} was not found there; follow the sum, or leave this spectrum out",
        check.input.path
    ))
}

/// The drying time that a file name tells, in hours: `dried-6h.jdx`, `batch 2.5 h.dx`, `x_90min.jdx`, `day 3`
/// style `3d`; `before` means 0. `1H` with a capital letter is the nucleus, not an hour.
///
/// ```
/// assert_eq!(lees::drying::hours_in_name("dried-6h.jdx"), Some(6.0));
/// assert_eq!(lees::drying::hours_in_name("dye_90min_50C.jdx"), Some(1.5));
/// assert_eq!(lees::drying::hours_in_name("batch-before-drying.jdx"), Some(0.0));
/// assert_eq!(lees::drying::hours_in_name("batch-400MHz.jdx"), None);
/// assert_eq!(lees::drying::hours_in_name("dye-1H-6h.jdx"), Some(6.0));
/// ```
#[must_use]
pub fn hours_in_name(name: &str) -> Option<f64> {
    let stem = without_nucleus(name.rsplit(['/', '\\']).next().unwrap_or(name)).to_ascii_lowercase();
    let mut words: Vec<String> = Vec::new();
    for c in stem.chars() {
        let joins = |last: &String| {
            let digit = |c: char| c.is_ascii_digit() || c == '.';
            last.chars().last().is_some_and(|l| digit(l) == digit(c))
        };
        match words.last_mut() {
            _ if c == '-' || c == '_' || c == ' ' => words.push(String::new()),
            Some(last) if last.is_empty() || joins(last) => last.push(c),
            _ => words.push(c.to_string()),
        }
    }
    words.retain(|word| !word.is_empty());
    let timed = words
        .windows(2)
        .find_map(|pair| Some(pair[0].trim_end_matches('.').parse::<f64>().ok()? * unit(&pair[1])?));
    let before = || words.iter().any(|word| word.starts_with("before")).then_some(0.0);
    timed.or_else(before).filter(|hours| (0.0..=LONGEST_HOURS).contains(hours))
}

/// The name with `-` for each `1H` that is not part of a larger number.
fn without_nucleus(name: &str) -> String {
    let mut left = name.to_owned();
    for (at, nucleus) in name.match_indices("1H") {
        if !name[..at].ends_with(|c: char| c.is_ascii_digit() || c == '.') {
            left.replace_range(at..at + nucleus.len(), "--");
        }
    }
    left
}

/// Hours in a unit of time as written in file names, with what follows the dot cut off.
fn unit(word: &str) -> Option<f64> {
    match word.split('.').next().unwrap_or_default() {
        "h" | "hr" | "hrs" | "hour" | "hours" => Some(1.0),
        "min" | "mins" | "minutes" => Some(1.0 / 60.0),
        "d" | "day" | "days" => Some(24.0),
        _ => None,
    }
}
