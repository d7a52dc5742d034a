//! What a model of lines may be wrong by beside tall ones.

use crate::inner::larger;

/// Share of the misfit that reaches out to the feet of a line ...
const FEET_SHARE: f64 = 0.1;
/// ... and how far it reaches, hertz: shim gradients and wiggles.
const FEET_HZ: f64 = 40.0;
/// Points a block in the search for near tall lines.
const FEET_BLOCK: usize = 32;

/// What the model may be wrong by at every point: the misfit's share of it, and a little of the tallest line
/// within reach.
pub(super) fn feet(model: &[f64], misfit: f64, step: f64) -> Vec<f64> {
    let reach = ((FEET_HZ / step / FEET_BLOCK as f64).ceil() as usize).max(1);
    let tops: Vec<f64> =
        model.chunks(FEET_BLOCK).map(|c| c.iter().fold(0.0f64, |t, m| larger(t, m.abs()))).collect();
    let mut feet = Vec::with_capacity(model.len());
    for (k, block) in model.chunks(FEET_BLOCK).enumerate() {
        let near = &tops[k.saturating_sub(reach)..(k + reach + 1).min(tops.len())];
        let foot = FEET_SHARE * near.iter().fold(0.0f64, |t, m| larger(t, *m));
        feet.extend(block.iter().map(|m| misfit * (m.abs() + foot)));
    }
    feet
}
