//! Where the points of an evenly spaced table lie, when the labels disagree.
//!
//! The rule, in order:
//! 1. The table decides the number of points. A wrong or missing NPOINTS is corrected with a warning when the
//!    abscissae at the line starts, or DELTAX, fit the points that are there; else points are missing and the
//!    table is refused.
//! 2. FIRSTX and LASTX give the axis (both are required by the standard, DELTAX is not). If DELTAX disagrees by
//!    more than half a point over the whole table, the abscissae at the line starts decide; if they do not
//!    help, FIRSTX and LASTX stand.
//! 3. Without LASTX, FIRSTX and DELTAX; without either, the abscissae at the line starts times XFACTOR.

use crate::error::{ErrorKind, FormatError};
use crate::warnings::Warnings;

use super::asdf::{Decoded, LineX};

/// What the labels say of an axis.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Claims {
    pub first: Option<f64>,
    pub last: Option<f64>,
    pub delta: Option<f64>,
    pub points: Option<f64>,
    /// Multiplies the abscissae in the table.
    pub factor: f64,
    /// Line of the table's header.
    pub line: usize,
    /// Whether the block was closed properly.
    pub ended: bool,
    /// Whether a wrong number of points is only a warning: data to be looked at, never measured.
    pub lenient: bool,
}

/// The abscissae at the line starts as a straight line over the index.
#[derive(Debug, Clone, Copy)]
struct Trend {
    /// Change for one point, before the factor.
    step: f64,
    /// First line that strays from it.
    stray: Option<usize>,
}

/// First and last abscissa of `decoded`.
///
/// # Errors
/// When points are missing, or nothing says where the points lie.
pub(crate) fn settle(
    claims: Claims,
    decoded: &Decoded,
    warnings: &mut Warnings,
) -> Result<(f64, f64), FormatError> {
    let points = decoded.ordinates.len();
    let trend = trend(&decoded.lines, decoded.last_line);
    match count(claims, points, trend, decoded, warnings) {
        Err(error) if claims.lenient && points > 0 => warnings.add(error.to_string()),
        result => result?,
    }
    if let Some(line) = trend.and_then(|t| t.stray) {
        warnings
            .on_line(line, "the abscissa does not fit its neighbours; points are counted, not read off it");
    }
    span(claims, points, trend, decoded, warnings)
}

fn trend(lines: &[LineX], last_line: usize) -> Option<Trend> {
    let (start, end) = (lines.first()?, lines.last()?);
    let place = |line: &LineX| line.index as f64 - f64::from(u8::from(line.checked));
    let run = place(end) - place(start);
    if run < 1.0 || last_line == usize::MAX {
        return None;
    }
    let step = (end.x - start.x) / run;
    let strays = |line: &&LineX| {
        let expected = start.x + step * (place(line) - place(start));
        // One and a half points, or the rounding of the printed abscissae.
        (line.x - expected).abs() > 1.5 * step.abs() + 4.0 * line.rounding.max(start.rounding)
    };
    Some(Trend { step, stray: lines.iter().find(strays).map(|line| line.line) })
}

/// Rule 1.
fn count(
    claims: Claims,
    points: usize,
    trend: Option<Trend>,
    decoded: &Decoded,
    warnings: &mut Warnings,
) -> Result<(), FormatError> {
    let read = match claims.points {
        None => {
            warnings.on_line(claims.line, format!("NPOINTS is missing; {points} points were counted"));
            return if claims.ended || points == 0 {
                none_at_all(points, claims)
            } else {
                Err(cut_off(points, claims))
            };
        }
        Some(declared) if declared == points as f64 => return none_at_all(points, claims),
        Some(declared) => format!("{points} points where NPOINTS says {declared}"),
    };
    if points == 0 || !claims.ended {
        return Err(damaged(&read, claims));
    }
    let fits = delta_fits(claims, points) || lines_fit(claims, points, trend, decoded);
    let stray = trend.and_then(|t| t.stray);
    if let (false, Some(line)) = (fits, stray) {
        let read = format!("{read}; the abscissa of this line shows where the table is damaged");
        return Err(FormatError::new(ErrorKind::Damaged, read, "all points of the table").on_line(line));
    }
    if !fits {
        return Err(damaged(&read, claims));
    }
    warnings.on_line(claims.line, format!("{read}; the axis fits the points that are there"));
    Ok(())
}

fn none_at_all(points: usize, claims: Claims) -> Result<(), FormatError> {
    if points > 0 { Ok(()) } else { Err(damaged("a table without points", claims)) }
}

fn damaged(read: &str, claims: Claims) -> FormatError {
    let read =
        if claims.ended { read.to_owned() } else { format!("{read} and the file ends without ##END=") };
    FormatError::new(ErrorKind::Damaged, read, "all points of the table").on_line(claims.line)
}

fn cut_off(points: usize, claims: Claims) -> FormatError {
    damaged(&format!("{points} points, with no NPOINTS to compare"), claims)
}

/// Whether FIRSTX, LASTX and DELTAX agree on the points that are there.
fn delta_fits(claims: Claims, points: usize) -> bool {
    let (Some(first), Some(last), Some(delta)) = (claims.first, claims.last, claims.delta) else {
        return false;
    };
    let intervals = (last - first) / delta;
    (intervals.abs() - (points as f64 - 1.0)).abs() < 0.5
}

/// Whether the abscissae at the line starts lead from FIRSTX to LASTX in the points that are there.
fn lines_fit(claims: Claims, points: usize, trend: Option<Trend>, decoded: &Decoded) -> bool {
    let (Some(first), Some(last), Some(trend)) = (claims.first, claims.last, trend) else {
        return false;
    };
    if trend.stray.is_some() || trend.step == 0.0 {
        return false;
    }
    let step = (last - first) / (points as f64 - 1.0);
    let rounding = decoded.lines.first().map_or(0.0, |line| line.rounding);
    let off = (step.abs() - (trend.step * claims.factor).abs()).abs() * points as f64;
    off < 0.6 * step.abs() + 2.0 * (rounding * claims.factor).abs()
}

/// Rules 2 and 3.
fn span(
    claims: Claims,
    points: usize,
    trend: Option<Trend>,
    decoded: &Decoded,
    warnings: &mut Warnings,
) -> Result<(f64, f64), FormatError> {
    let intervals = points as f64 - 1.0;
    match (claims.first, claims.last, claims.delta) {
        (Some(first), Some(last), Some(delta)) => {
            Ok((first, settle_last(claims, first, last, delta, intervals, trend, warnings)))
        }
        (Some(first), Some(last), None) => Ok((first, last)),
        (Some(first), None, Some(delta)) => {
            warnings.on_line(claims.line, "LASTX is missing; it was computed from FIRSTX and DELTAX");
            Ok((first, first + delta * intervals))
        }
        (first, _, _) => from_lines(first, claims, intervals, trend, decoded, warnings),
    }
}

fn settle_last(
    claims: Claims,
    first: f64,
    last: f64,
    delta: f64,
    intervals: f64,
    trend: Option<Trend>,
    warnings: &mut Warnings,
) -> f64 {
    let step = if intervals > 0.0 { (last - first) / intervals } else { delta };
    let off = |step: f64| (delta.abs() - step.abs()).abs() * intervals;
    if off(step) <= 0.5 * step.abs().max(delta.abs()) || !delta.is_finite() || delta == 0.0 {
        return last;
    }
    let sign = if last < first { -1.0 } else { 1.0 };
    let by_lines = trend.filter(|t| t.stray.is_none()).map(|t| (t.step * claims.factor).abs());
    if by_lines.is_some_and(|lines| off(lines) < (lines - step.abs()).abs() * intervals) {
        warnings.on_line(
            claims.line,
            "LASTX disagrees with DELTAX; the abscissae in the table support DELTAX, which was used",
        );
        return first + sign * delta.abs() * intervals;
    }
    warnings.on_line(claims.line, "DELTAX disagrees with FIRSTX and LASTX, which were used");
    last
}

fn from_lines(
    first: Option<f64>,
    claims: Claims,
    intervals: f64,
    trend: Option<Trend>,
    decoded: &Decoded,
    warnings: &mut Warnings,
) -> Result<(f64, f64), FormatError> {
    let start = decoded.lines.first().map(|line| line.x * claims.factor);
    let step = trend.filter(|t| t.stray.is_none() && t.step != 0.0).map(|t| t.step * claims.factor);
    let (Some(first), Some(step)) = (first.or(start), claims.delta.or(step)) else {
        let allowed = "FIRSTX and LASTX, or FIRSTX and DELTAX";
        return Err(
            FormatError::new(ErrorKind::Missing, "a table without an axis", allowed).on_line(claims.line)
        );
    };
    warnings
        .on_line(claims.line, "FIRSTX or LASTX is missing; the axis was taken from the table's abscissae");
    Ok((first, first + step * intervals))
}
