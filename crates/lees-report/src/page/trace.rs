//! A spectrum in few bytes: whole steps of a fraction of the noise, differences, variable length, base64.

use base64::Engine as _;
use lees_core::ShiftRange;
use lees_core::check::{Check, Finding};
use serde::Serialize;

use super::article::inert;
use crate::figure::sample::envelope;
use crate::{clean, formula, number, words};

/// Steps in one standard deviation of the noise: rounding adds 1/12 of a step's square, 0.5 % of the variance.
const STEPS_PER_NOISE: f64 = 4.0;
/// No more steps than this in the tallest line, whatever the noise.
const MOST_STEPS: f64 = 16_777_216.0;
/// Bytes a point takes in base64 at most times: one byte of difference.
const BYTES_PER_POINT: f64 = 1.45;
/// Fewest points kept.
const FEWEST: usize = 4096;

#[derive(Serialize)]
struct Trace<'a> {
    name: String,
    verdict: &'static str,
    /// Shift of the first point and the (negative) step, in ppm.
    first: f64,
    step: f64,
    points: usize,
    /// Intensity of one step.
    unit: f64,
    /// Intensity that fills the view.
    full: f64,
    high: f64,
    low: f64,
    data: String,
    marks: Vec<MarkOut<'a>>,
}

#[derive(Serialize)]
struct MarkOut<'a> {
    ppm: f64,
    high: f64,
    low: f64,
    kind: &'a str,
    label: String,
    /// The table row and its signal.
    row: String,
}

/// What the script needs to draw a check, as JSON that can stand in a script element.
pub(super) fn json(check: &Check, share: usize) -> String {
    let axis = &check.spectrum.axis;
    let real: Vec<f64> = check.spectrum.real.iter().map(|y| if y.is_finite() { *y } else { 0.0 }).collect();
    let (values, step) = reduced(check, real, share);
    let tallest = values.iter().fold(0.0_f64, |m, y| m.max(y.abs()));
    let unit = (check.noise / STEPS_PER_NOISE).max(tallest / MOST_STEPS).max(f64::MIN_POSITIVE);
    let view = crate::figure::view(check);
    let trace = Trace {
        name: super::name(check),
        verdict: words::verdict(check.verdict),
        first: axis.first().0,
        step,
        points: values.len(),
        unit,
        full: crate::figure::full(check, view),
        high: view.high.0,
        low: view.low.0,
        data: base64::engine::general_purpose::STANDARD.encode(packed(&values, unit)),
        marks: marks(check),
    };
    inert(&serde_json::to_string(&trace).unwrap_or_default())
}

/// All points, or lowest and highest of even columns when they'd take more than their share.
fn reduced(check: &Check, real: Vec<f64>, share: usize) -> (Vec<f64>, f64) {
    let axis = &check.spectrum.axis;
    let room = ((share as f64 / BYTES_PER_POINT) as usize).max(FEWEST);
    if real.len() <= room {
        return (real, axis.step().0);
    }
    let columns = room / 2;
    let whole = ShiftRange { high: axis.first(), low: axis.last() };
    let mut pairs: Vec<f64> = envelope(&check.spectrum, whole, columns).into_iter().map(|p| p.1).collect();
    pairs.resize(2 * columns, 0.0);
    let span = axis.last().0 - axis.first().0;
    (pairs, span / (2 * columns - 1) as f64)
}

/// Differences of whole steps, zigzag, seven bits a byte, low bits first.
fn packed(values: &[f64], unit: f64) -> Vec<u8> {
    let mut out = Vec::with_capacity(values.len() * 5 / 4);
    let mut last = 0_i64;
    for value in values {
        let next = (value / unit).round() as i64;
        push(&mut out, next - last);
        last = next;
    }
    out
}

fn push(out: &mut Vec<u8>, difference: i64) {
    let mut rest = ((difference << 1) ^ (difference >> 63)) as u64;
    while rest >= 0x80 {
        out.push((rest as u8) | 0x80);
        rest >>= 7;
    }
    out.push(rest as u8);
}

fn marks(check: &Check) -> Vec<MarkOut<'static>> {
    let counted = check.volatiles.iter().enumerate().flat_map(|(i, f)| of(f, "volatile", format!("v{i}")));
    let others =
        check.not_counted.iter().enumerate().flat_map(|(i, n)| of(&n.finding, "aside", format!("n{i}")));
    let unexplained = check.unexplained.iter().enumerate().map(|(i, u)| MarkOut {
        ppm: u.shift.0,
        high: u.range.high.0,
        low: u.range.low.0,
        kind: "unexplained",
        label: format!("unexplained, {} ppm, {}", number::shift(u.shift.0), u.multiplicity),
        row: format!("u{i}"),
    });
    let product = check.product.iter().flat_map(|p| &p.signals).enumerate().map(|(i, s)| MarkOut {
        ppm: s.range.centre().0,
        high: s.range.high.0,
        low: s.range.low.0,
        kind: "product",
        label: format!("product: {}", clean(&s.text)),
        row: format!("p{i}"),
    });
    counted.chain(others).chain(unexplained).chain(product).collect()
}

fn of(finding: &Finding, kind: &'static str, row: String) -> impl Iterator<Item = MarkOut<'static>> {
    let group = |group: &str| match finding.rivals.as_slice() {
        [] => format!(" {}", clean(group)),
        _ => String::new(),
    };
    finding.signals.iter().map(move |s| MarkOut {
        ppm: s.shift.0,
        high: s.range.high.0,
        low: s.range.low.0,
        kind,
        label: formula::lowered(&format!(
            "{}{}, {} ppm, {}",
            words::either(finding),
            group(&s.group),
            number::shift(s.shift.0),
            s.multiplicity
        )),
        row: row.clone(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Reads the bytes back as the page's script does.
    fn unpacked(bytes: &[u8], unit: f64) -> Vec<f64> {
        let (mut out, mut sum, mut shift, mut rest) = (Vec::new(), 0_i64, 0, 0_u64);
        for byte in bytes {
            rest |= u64::from(byte & 0x7f) << shift;
            shift += 7;
            if byte & 0x80 == 0 {
                sum += (rest >> 1) as i64 ^ -((rest & 1) as i64);
                out.push(sum as f64 * unit);
                (shift, rest) = (0, 0);
            }
        }
        out
    }

    #[test]
    fn packing_loses_half_a_step_at_most() {
        let values: Vec<f64> =
            (0..500).map(|i| f64::from(i * i % 977) * 31.7 - 9000.0).chain([1e9, -1e9]).collect();
        let read = unpacked(&packed(&values, 7.0), 7.0);
        assert_eq!(read.len(), values.len());
        assert!(values.iter().zip(&read).all(|(a, b)| (a - b).abs() <= 3.5001));
    }
}
