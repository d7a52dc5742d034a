//! The noise's power against time in the FID, from signal-free segments of the spectrum.

use lees_fourier::Plans;
use num_complex::Complex64;

use crate::inner::sum;

/// Segment lengths tried for the time profile, longest first.
const SEGMENTS: [usize; 4] = [1024, 512, 256, 128];
/// Fewest segments for a time profile.
const FEWEST_SEGMENTS: usize = 24;
/// Segments used at most, evenly chosen.
const MOST_SEGMENTS: usize = 96;
/// The lowest bins of the time profile are spoiled by baseline and detrending; they are extrapolated.
const SPOILED_BINS: usize = 3;
/// Bins from which the lowest are extrapolated.
const EXTRAPOLATE_FROM: usize = 16;

/// Noise power against FID time, mean 1, from signal-free segments.
pub(super) fn time_profile(residual: &[f64], free: &[bool], typical: f64) -> Option<Vec<f64>> {
    let (length, starts) = SEGMENTS.iter().find_map(|length| {
        let starts = free_segments(free, *length);
        (starts.len() >= FEWEST_SEGMENTS).then_some((*length, starts))
    })?;
    let fft = Plans::new().forward(length);
    let window: Vec<f64> = (0..length)
        .map(|i| 0.5 - 0.5 * libm::cos((i as f64 + 0.5) / length as f64 * std::f64::consts::TAU))
        .collect();
    let mut sums = vec![0.0; length / 2 + 1];
    let stride = starts.len().div_ceil(MOST_SEGMENTS);
    let calm: Vec<(&[f64], f64)> = starts
        .into_iter()
        .step_by(stride)
        .map(|start| &residual[start..start + length])
        .map(|segment| (segment, sum(segment) / length as f64))
        .filter(|(segment, mean)| segment.iter().all(|v| (v - mean).abs() <= 6.0 * typical))
        .collect();
    let used = calm.len() as f64;
    let mut buffer = vec![Complex64::default(); length];
    let mut scratch = vec![Complex64::default(); fft.scratch()];
    // two segments a transform, as real and imaginary part: the powers at a frequency and its opposite add up to both's
    for pair in calm.chunks(2) {
        let (re, im) = (pair[0], pair.get(1).copied().unwrap_or((&[], 0.0)));
        buffer.iter_mut().zip(re.0).zip(&window).for_each(|((b, v), w)| *b = Complex64::from((v - re.1) * w));
        buffer.iter_mut().zip(im.0).zip(&window).for_each(|((b, v), w)| b.im = (v - im.1) * w);
        fft.process_with(&mut buffer, &mut scratch);
        sums[0] += buffer[0].norm_sqr();
        let opposite = buffer.iter().rev();
        for ((s, b), o) in sums[1..].iter_mut().zip(&buffer[1..]).zip(opposite) {
            *s += 0.5 * (b.norm_sqr() + o.norm_sqr());
        }
    }
    (used >= FEWEST_SEGMENTS as f64 / 2.0).then(|| tidy_profile(&sums))
}

/// Starts of half-overlapping segments without a marked point.
fn free_segments(free: &[bool], length: usize) -> Vec<usize> {
    let mut starts = Vec::new();
    let (mut run, mut i) = (0usize, 0usize);
    while i < free.len() {
        run = if free[i] { run + 1 } else { 0 };
        i += 1;
        if run == length {
            starts.push(i - length);
            run -= length / 2;
        }
    }
    starts
}

/// Replaces the spoiled low bins, smooths, and scales to mean 1.
fn tidy_profile(sums: &[f64]) -> Vec<f64> {
    let mut profile: Vec<f64> = (0..sums.len())
        .map(|i| {
            let near = i.saturating_sub(2).max(SPOILED_BINS.min(i))..(i + 3).min(sums.len());
            sums[near.clone()].iter().sum::<f64>() / near.len() as f64
        })
        .collect();
    let (at_zero, slope) = log_line(&sums[SPOILED_BINS..EXTRAPOLATE_FROM.min(sums.len())]);
    for (i, value) in profile.iter_mut().enumerate().take(SPOILED_BINS + 2) {
        *value = libm::exp(at_zero + slope * i as f64);
    }
    let last = profile.len() - 1;
    let mean =
        profile.iter().enumerate().map(|(i, v)| if i == 0 || i == last { *v / 2.0 } else { *v }).sum::<f64>()
            / last as f64;
    profile.iter_mut().for_each(|v| *v /= mean);
    profile
}

/// Straight line through the logarithms; the abscissa is the bin number. The slope is never rising.
fn log_line(bins: &[f64]) -> (f64, f64) {
    let n = bins.len() as f64;
    let (mut sx, mut sy, mut sxx, mut sxy) = (0.0, 0.0, 0.0, 0.0);
    for (k, bin) in bins.iter().enumerate() {
        let (x, y) = ((k + SPOILED_BINS) as f64, libm::log(bin.max(f64::MIN_POSITIVE)));
        sx += x;
        sy += y;
        sxx += x * x;
        sxy += x * y;
    }
    let slope = ((n * sxy - sx * sy) / (n * sxx - sx * sx)).min(0.0);
    ((sy - slope * sx) / n, slope)
}
