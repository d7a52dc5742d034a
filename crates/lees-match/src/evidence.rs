//! Agreement of partial amounts of which some may be too large because something else lies there too.
//!
//! A molecule's peaks each say "so much of me". Other signals only ever add, so a peak that says too much is
//! covered, while a peak that says too little speaks against the molecule.

/// What one peak says of the amount.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Witness {
    /// Amount by this peak alone.
    pub amount: f64,
    /// Its standard uncertainty.
    pub u: f64,
    /// What it costs (natural log) to say that something else stands at this very place.
    pub cover: f64,
    /// The most that a missing peak can weigh; zero for protons that exchange.
    pub missing_cap: f64,
}

impl Witness {
    /// Minus the log-likelihood of this peak if the amount is `n`, up to a constant.
    ///
    /// Within the error it is the Gaussian half square. Far above, another signal covers the peak: the cost
    /// levels off at `cover`. Far below, the cost grows to `missing_cap`.
    pub(crate) fn cost(&self, n: f64) -> f64 {
        let r = (self.amount - n) / self.u;
        let square = 0.5 * r * r;
        if r > 0.0 { square.min(self.cover) } else { square.min(self.missing_cap) }
    }

    /// Whether the peak says clearly more than `n`.
    pub(crate) fn covered(&self, n: f64) -> bool {
        let r = (self.amount - n) / self.u;
        r > 0.0 && 0.5 * r * r > self.cover
    }
}

/// What many peaks say, column by column; the most that a missing one can weigh is the same for all.
#[derive(Debug, Clone)]
pub(crate) struct Columns {
    pub amounts: Vec<f64>,
    pub us: Vec<f64>,
    pub covers: Vec<f64>,
    missing_cap: f64,
}

impl Columns {
    /// None yet, with room for so many.
    pub(crate) fn new(room: usize, missing_cap: f64) -> Self {
        let [amounts, us, covers] = std::array::from_fn(|_| Vec::with_capacity(room));
        Self { amounts, us, covers, missing_cap }
    }

    /// A single one.
    pub(crate) fn single(witness: Witness) -> Self {
        let mut columns = Self::new(1, witness.missing_cap);
        columns.push(witness.amount, witness.u, witness.cover);
        columns
    }

    pub(crate) fn len(&self) -> usize {
        self.amounts.len()
    }

    pub(crate) fn push(&mut self, amount: f64, u: f64, cover: f64) {
        self.amounts.push(amount);
        self.us.push(u);
        self.covers.push(cover);
    }

    /// Takes over a range of others.
    pub(crate) fn extend(&mut self, others: &Self, range: std::ops::Range<usize>) {
        self.amounts.extend_from_slice(&others.amounts[range.clone()]);
        self.us.extend_from_slice(&others.us[range.clone()]);
        self.covers.extend_from_slice(&others.covers[range]);
    }

    /// One of them.
    pub(crate) fn at(&self, index: usize) -> Witness {
        Witness {
            amount: self.amounts[index],
            u: self.us[index],
            cover: self.covers[index],
            missing_cap: self.missing_cap,
        }
    }

    /// Adds [`Witness::cost`] of those from `first` on to as many costs.
    pub(crate) fn add_costs(&self, first: usize, n: f64, costs: &mut [f64]) {
        let range = first..first + costs.len();
        let columns = (&self.amounts[range.clone()], &self.us[range.clone()], &self.covers[range]);
        for (k, cost) in costs.iter_mut().enumerate() {
            let r = (columns.0[k] - n) / columns.1[k];
            let most = if r > 0.0 { columns.2[k] } else { self.missing_cap };
            *cost += smaller_of(0.5 * r * r, most);
        }
    }
}

/// The smaller of two numbers, neither of which is none: without the care that [`f64::min`] takes.
pub(crate) fn smaller_of(a: f64, b: f64) -> f64 {
    if b < a { b } else { a }
}

/// The larger of two numbers, neither of which is none.
pub(crate) fn larger_of(a: f64, b: f64) -> f64 {
    if b > a { b } else { a }
}

/// The gain in log-likelihood of amount `n` over none.
pub(crate) fn gain(witnesses: &[Witness], n: f64) -> f64 {
    cost(witnesses, 0.0) - cost(witnesses, n)
}

/// Minus the log-likelihood of amount `n`, up to a constant.
pub(crate) fn cost(witnesses: &[Witness], n: f64) -> f64 {
    witnesses.iter().map(|w| w.cost(n)).sum()
}

/// The amount of greatest gain among those the peaks propose, and that gain; of two that gain the same the smaller, since other
/// signals only add.
pub(crate) fn best(witnesses: &[Witness]) -> (f64, f64) {
    witnesses.iter().filter(|w| w.amount > 0.0).map(|w| (w.amount, gain(witnesses, w.amount))).fold(
        (0.0, 0.0),
        |best: (f64, f64), next| {
            let alike = (next.1 - best.1).abs() <= 1e-6 * best.1;
            if (alike && next.0 < best.0) || (!alike && next.1 > best.1) { next } else { best }
        },
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn witness(amount: f64, u: f64) -> Witness {
        Witness { amount, u, cover: 3.0, missing_cap: 12.0 }
    }

    #[test]
    fn a_covered_peak_does_not_raise_the_amount() {
        let peaks = [witness(1.0, 0.05), witness(1.03, 0.05), witness(7.0, 0.05)];
        let (n, gain) = best(&peaks);
        assert!((n - 1.0).abs() < 0.05 && gain > 5.0, "{n} {gain}");
    }

    #[test]
    fn of_two_peaks_that_disagree_the_smaller_is_believed() {
        let capped = |amount| Witness { missing_cap: 3.0, ..witness(amount, 0.01) };
        for peaks in [[capped(1.0), capped(1.4)], [capped(1.4), capped(1.0)]] {
            assert!((best(&peaks).0 - 1.0).abs() < 0.05, "{:?}", best(&peaks));
        }
    }

    #[test]
    fn a_missing_peak_speaks_against_the_molecule() {
        let peaks = [witness(1.0, 0.05), witness(0.0, 0.05)];
        assert!(best(&peaks).1 <= 0.0);
    }
}
