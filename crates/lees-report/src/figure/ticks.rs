//! Where the shift axis is marked.

/// Steps between numbers, in ppm.
const STEPS: [f64; 10] = [0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0];

/// A set of marks on the axis.
pub(super) struct Ticks {
    /// Numbered marks, with their text.
    pub(super) major: Vec<(f64, String)>,
    /// Marks without a number.
    pub(super) minor: Vec<f64>,
}

/// Round numbers between two shifts, about `most` of them at most; one alone gives no measure, so a finer step is taken then.
pub(super) fn ticks(high: f64, low: f64, most: f64) -> Ticks {
    let wide = STEPS.iter().position(|s| (high - low) / s <= most);
    let step = match wide {
        Some(at) if at > 0 && multiples(STEPS[at], high, low).count() < 2 => STEPS[at - 1],
        Some(at) => STEPS[at],
        None => 20.0,
    };
    let decimals = (-libm::log10(step).floor()).max(0.0) as usize;
    let major = multiples(step, high, low).map(|x| (x, text(x, decimals))).collect();
    let minor = multiples(step / subdivisions(step), high, low).collect();
    Ticks { major, minor }
}

/// Into how many parts a step is divided: fifths, but quarters when it starts with a 2.
fn subdivisions(step: f64) -> f64 {
    let lead = step / libm::pow(10f64, libm::log10(step).floor());
    if (lead - 2.0).abs() < 0.1 { 4.0 } else { 5.0 }
}

fn multiples(step: f64, high: f64, low: f64) -> impl Iterator<Item = f64> {
    let slack = 1e-6;
    let first = (low / step - slack).ceil() as i64;
    let last = (high / step + slack).floor() as i64;
    (first..=last).map(move |k| k as f64 * step)
}

/// A typographic minus before negative shifts, none before zero.
fn text(x: f64, decimals: usize) -> String {
    let text = format!("{:.decimals$}", x.abs());
    if x < 0.0 && text.chars().any(|c| c.is_ascii_digit() && c != '0') {
        format!("\u{2212}{text}")
    } else {
        text
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_round_and_few() {
        let ticks = ticks(9.3, -0.4, 12.0);
        let words: Vec<_> = ticks.major.iter().map(|(_, t)| t.as_str()).collect();
        assert_eq!(words, ["0", "1", "2", "3", "4", "5", "6", "7", "8", "9"]);
        assert_eq!(ticks.minor.len(), 49);
    }

    #[test]
    fn one_number_alone_is_not_enough() {
        let ticks = ticks(7.93, 7.1, 4.1);
        let words: Vec<_> = ticks.major.iter().map(|(_, t)| t.as_str()).collect();
        assert_eq!(words, ["7.2", "7.4", "7.6", "7.8"]);
    }

    #[test]
    fn narrow_stretches_get_decimals_and_a_true_minus() {
        let ticks = ticks(0.1, -0.1, 5.0);
        let words: Vec<_> = ticks.major.iter().map(|(_, t)| t.as_str()).collect();
        assert_eq!(words, ["\u{2212}0.10", "\u{2212}0.05", "0.00", "0.05", "0.10"]);
    }
}
