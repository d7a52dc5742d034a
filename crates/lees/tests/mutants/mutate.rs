//! Ways in which a good file goes bad. Every draw follows from the seed.

use rand::{Rng, RngExt};

/// Most changes made to one file.
const MOST_CHANGES: usize = 6;

/// Values that break careless arithmetic.
const AWKWARD: [&str; 16] = [
    "0",
    "-0",
    "-1",
    "1",
    "1e308",
    "-1e308",
    "1e-308",
    "4e9",
    "99999999999",
    "NaN",
    "INF",
    "",
    "0,5",
    "1e",
    "--5",
    "?",
];

/// A damaged copy; `other` lends pieces.
pub(crate) fn mutate(good: &[u8], other: &[u8], rng: &mut impl Rng) -> Vec<u8> {
    let mut bytes = good.to_vec();
    let changes = if rng.random() { 1 } else { rng.random_range(1..=MOST_CHANGES) };
    for _ in 0..changes {
        match rng.random_range(0..12) {
            0 => flip(&mut bytes, rng),
            1 => noise(&mut bytes, rng),
            2 => cut_out(&mut bytes, rng),
            3 => repeat(&mut bytes, rng),
            4 => graft(&mut bytes, other, rng),
            5 => truncate(&mut bytes, rng),
            6 => number_anywhere(&mut bytes, rng),
            7..=9 => number_of_a_label(&mut bytes, rng),
            10 => lose_a_line(&mut bytes, rng),
            _ => swap_lines(&mut bytes, rng),
        }
    }
    bytes
}

fn at(bytes: &[u8], rng: &mut impl Rng) -> usize {
    if bytes.is_empty() { 0 } else { rng.random_range(0..bytes.len()) }
}

/// A stretch of bytes, mostly short.
fn stretch(bytes: &[u8], rng: &mut impl Rng) -> std::ops::Range<usize> {
    let start = at(bytes, rng);
    let most = 1_usize << rng.random_range(0..14);
    start..(start + rng.random_range(0..=most)).min(bytes.len())
}

fn flip(bytes: &mut [u8], rng: &mut impl Rng) {
    let place = at(bytes, rng);
    if let Some(byte) = bytes.get_mut(place) {
        *byte ^= 1 << rng.random_range(0..8);
    }
}

fn noise(bytes: &mut [u8], rng: &mut impl Rng) {
    let range = stretch(bytes, rng);
    rng.fill(&mut bytes[range]);
}

fn cut_out(bytes: &mut Vec<u8>, rng: &mut impl Rng) {
    let range = stretch(bytes, rng);
    bytes.drain(range);
}

fn repeat(bytes: &mut Vec<u8>, rng: &mut impl Rng) {
    let piece = bytes[stretch(bytes, rng)].to_vec();
    let place = at(bytes, rng);
    bytes.splice(place..place, piece);
}

fn graft(bytes: &mut Vec<u8>, other: &[u8], rng: &mut impl Rng) {
    let piece = other[stretch(other, rng)].to_vec();
    let range = stretch(bytes, rng);
    bytes.splice(range, piece);
}

fn truncate(bytes: &mut Vec<u8>, rng: &mut impl Rng) {
    let place = at(bytes, rng);
    bytes.truncate(place);
}

fn awkward(rng: &mut impl Rng) -> &'static [u8] {
    AWKWARD[rng.random_range(0..AWKWARD.len())].as_bytes()
}

fn is_number(byte: u8) -> bool {
    byte.is_ascii_digit() || b".+-eE".contains(&byte)
}

/// Puts an awkward value in the place of the number found from `place` on, when one comes soon.
fn put_number(bytes: &mut Vec<u8>, place: usize, rng: &mut impl Rng) {
    let Some(ahead) = bytes[place..].iter().take(200).position(u8::is_ascii_digit) else { return };
    let start = place + ahead;
    let length = bytes[start..].iter().take_while(|byte| is_number(**byte)).count();
    bytes.splice(start..start + length, awkward(rng).iter().copied());
}

fn number_anywhere(bytes: &mut Vec<u8>, rng: &mut impl Rng) {
    let place = at(bytes, rng);
    put_number(bytes, place, rng);
}

/// Spoils the number of a labelled record: sizes, factors, frequencies, axes.
fn number_of_a_label(bytes: &mut Vec<u8>, rng: &mut impl Rng) {
    let labels: Vec<usize> =
        bytes.windows(2).enumerate().filter(|(_, two)| *two == b"##").map(|(at, _)| at).collect();
    if labels.is_empty() {
        return number_anywhere(bytes, rng);
    }
    let label = labels[rng.random_range(0..labels.len())];
    let equals = bytes[label..].iter().position(|byte| *byte == b'=').unwrap_or(0);
    put_number(bytes, label + equals, rng);
}

fn line(bytes: &[u8], rng: &mut impl Rng) -> std::ops::Range<usize> {
    let place = at(bytes, rng);
    let start = bytes[..place].iter().rposition(|byte| *byte == b'\n').map_or(0, |at| at + 1);
    let end = bytes[place..].iter().position(|byte| *byte == b'\n').map_or(bytes.len(), |at| place + at + 1);
    start..end
}

fn lose_a_line(bytes: &mut Vec<u8>, rng: &mut impl Rng) {
    let range = line(bytes, rng);
    bytes.drain(range);
}

fn swap_lines(bytes: &mut Vec<u8>, rng: &mut impl Rng) {
    let (mut a, mut b) = (line(bytes, rng), line(bytes, rng));
    if a.start > b.start {
        std::mem::swap(&mut a, &mut b);
    }
    if a.end <= b.start {
        let swapped = [&bytes[b.clone()], &bytes[a.end..b.start], &bytes[a.clone()]].concat();
        bytes.splice(a.start..b.end, swapped);
    }
}
