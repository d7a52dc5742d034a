//! First-order patterns: what lines a set of couplings makes.

use lees_core::Multiplicity;

/// Largest coupling between protons over two or three bonds, hertz (trans protons of a double bond reach 19;
/// common practice, no source).
pub const MOST_COUPLING_HZ: f64 = 20.0;
/// Largest coupling of the residual protons of a CHD2 group to its deuterons, hertz: 1.7 to 2.2 in the usual NMR
/// solvents (common practice, no source).
const MOST_DEUTERON_COUPLING_HZ: f64 = 3.0;

/// A pattern hypothesis: partners and their spin statistics.
#[derive(Debug, Clone, PartialEq)]
pub struct Pattern {
    /// For each coupling, largest first: relative intensities of its lines.
    pub groups: Vec<Vec<f64>>,
    /// The name it is reported under.
    pub multiplicity: Multiplicity,
    /// Largest coupling it may have, hertz.
    pub most_coupling_hz: f64,
    /// Prior cost: unusual patterns must explain more.
    pub cost: f64,
}

/// One line of a pattern: its place as a multiple of each coupling, and its share of the area.
#[derive(Debug, Clone, PartialEq)]
pub struct Stick {
    /// Multiples of each coupling, from the centre.
    pub multiples: Vec<f64>,
    /// Share of the area.
    pub share: f64,
}

/// Binomial intensities of `partners` equivalent spins 1/2.
fn binomial(partners: u8) -> Vec<f64> {
    let n = u32::from(partners);
    (0..=n)
        .map(|k| (0..k).map(|i| f64::from(n - i) / f64::from(i + 1)).product::<f64>() / 2f64.powi(n as i32))
        .collect()
}

/// Intensities of `partners` equivalent spins 1 (deuterons): 1:2:3:2:1 for two.
fn trinomial(partners: u8) -> Vec<f64> {
    (0..partners).fold(vec![1.0], |old, _| {
        let mut new = vec![0.0; old.len() + 2];
        for (i, v) in old.iter().enumerate() {
            new[i..i + 3].iter_mut().for_each(|n| *n += v / 3.0);
        }
        new
    })
}

/// All patterns looked for, with the number of couplings growing.
#[must_use]
pub(crate) fn patterns() -> Vec<Pattern> {
    let plain: [(&[u8], f64); 17] = [
        (&[1], 0.0),
        (&[2], 0.0),
        (&[3], 0.0),
        (&[4], 2.5),
        (&[5], 2.0),
        (&[6], 0.0),
        (&[1, 1], 1.0),
        (&[1, 2], 2.0),
        (&[2, 1], 2.0),
        (&[1, 3], 3.0),
        (&[3, 1], 3.0),
        (&[2, 2], 3.0),
        (&[2, 3], 4.0),
        (&[3, 2], 4.0),
        (&[1, 1, 1], 3.0),
        (&[1, 1, 2], 5.0),
        (&[1, 6], 4.0),
    ];
    let mut all: Vec<Pattern> = plain
        .iter()
        .map(|(partners, cost)| Pattern {
            groups: partners.iter().map(|n| binomial(*n)).collect(),
            multiplicity: Multiplicity::from_partners(partners.to_vec()),
            most_coupling_hz: MOST_COUPLING_HZ,
            cost: *cost,
        })
        .collect();
    all.push(Pattern {
        groups: vec![trinomial(2)],
        multiplicity: Multiplicity::from_partners(vec![4]),
        most_coupling_hz: MOST_DEUTERON_COUPLING_HZ,
        cost: 1.0,
    });
    all
}

impl Pattern {
    /// Its lines, in no order.
    #[must_use]
    pub(crate) fn sticks(&self) -> Vec<Stick> {
        let mut sticks = vec![Stick { multiples: Vec::new(), share: 1.0 }];
        for group in &self.groups {
            let middle = (group.len() as f64 - 1.0) / 2.0;
            sticks = sticks
                .iter()
                .flat_map(|stick| {
                    group.iter().enumerate().map(move |(k, share)| {
                        let mut multiples = stick.multiples.clone();
                        multiples.push(k as f64 - middle);
                        Stick { multiples, share: stick.share * share }
                    })
                })
                .collect();
        }
        sticks
    }

    /// Couplings that a set of line places suggests: the smallest is the first gap, the widest fills the span.
    /// Every assignment of sizes to groups is offered.
    #[must_use]
    pub(crate) fn guesses(&self, places: &[f64]) -> Vec<Vec<f64>> {
        let span = places[places.len() - 1] - places[0];
        let reach = |group: &Vec<f64>| group.len() as f64 - 1.0;
        let gap = |i: usize| places.get(i).map_or(0.0, |p| p - places[0]);
        let filled = |known: f64, group: &Vec<f64>| (span - known) / reach(group);
        match self.groups.as_slice() {
            [a] => vec![vec![span / reach(a)]],
            [a, b] => {
                let mut out = Vec::new();
                for small in [gap(1), gap(2)] {
                    out.push(vec![filled(small * reach(b), a), small]);
                }
                out
            }
            [a, b, c] => {
                let mut out = Vec::new();
                for (small, middle) in
                    [(gap(1), gap(2)), (gap(1), gap(3)), (gap(1), gap(1)), (gap(2), gap(3))]
                {
                    out.push(vec![filled(small * reach(c) + middle * reach(b), a), middle, small]);
                }
                out
            }
            _ => Vec::new(),
        }
    }
}
