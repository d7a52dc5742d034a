//! The lines of a `(X++(Y..Y))` table.

use super::Encoding;
use super::number::{affn, line_x};

/// Longest line of the standard.
const WIDTH: usize = 80;

/// An evenly spaced abscissa.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Steps {
    pub first: f64,
    pub step: f64,
}

impl Steps {
    fn at(self, index: usize) -> String {
        line_x(self.first + self.step * index as f64, self.step)
    }
}

/// A table of plain numbers.
pub(crate) fn plain(out: &mut String, x: Steps, values: &[f64], encoding: Encoding) {
    let words: Vec<String> = values.iter().map(|value| affn(*value)).collect();
    let width = words.iter().map(String::len).max().unwrap_or(0);
    let mut line = String::new();
    for (index, word) in words.iter().enumerate() {
        let token = match encoding {
            Encoding::Fix => format!(" {word:>width$}"),
            Encoding::Pac if word.starts_with('-') => word.clone(),
            Encoding::Pac => format!("+{word}"),
            _ => format!(" {word}"),
        };
        if !line.is_empty() && line.len() + token.len() > WIDTH {
            end_line(out, &mut line);
        }
        if line.is_empty() {
            line = x.at(index);
        }
        line.push_str(&token);
    }
    end_line(out, &mut line);
}

/// A table of whole numbers in SQZ form.
pub(crate) fn squeezed(out: &mut String, x: Steps, counts: &[i64]) {
    let mut line = String::new();
    for (index, count) in counts.iter().enumerate() {
        let token = lettered(*count, SQUEEZED);
        if !line.is_empty() && line.len() + token.len() > WIDTH {
            end_line(out, &mut line);
        }
        if line.is_empty() {
            line = x.at(index);
        }
        line.push_str(&token);
    }
    end_line(out, &mut line);
}

/// A table of differences; with `repeats`, equal ones in a row are counted.
pub(crate) fn differences(out: &mut String, x: Steps, counts: &[i64], repeats: bool) {
    let Some(first) = counts.first() else { return };
    let mut line = x.at(0) + &lettered(*first, SQUEEZED);
    let mut index = 1;
    let mut in_differences = false;
    while index < counts.len() {
        let step = counts[index] - counts[index - 1];
        let run = if repeats { run(counts, index, step) } else { 1 };
        let mut token = lettered(step, DIFFERENCE);
        let mut taken = 1;
        if run > 1 && (run - 1) * token.len() > lettered(run as i64, REPEAT).len() {
            token.push_str(&lettered(run as i64, REPEAT));
            taken = run;
        }
        if in_differences && line.len() + token.len() > WIDTH {
            end_line(out, &mut line);
            // The check ordinate: the last point once more.
            line = x.at(index - 1) + &lettered(counts[index - 1], SQUEEZED);
        }
        line.push_str(&token);
        in_differences = true;
        index += taken;
    }
    end_line(out, &mut line);
    if in_differences {
        let last = counts.len() - 1;
        line = x.at(last) + &lettered(counts[last], SQUEEZED);
        end_line(out, &mut line);
    }
}

fn run(counts: &[i64], index: usize, step: i64) -> usize {
    counts[index - 1..].windows(2).take_while(|pair| pair[1] - pair[0] == step).count()
}

fn end_line(out: &mut String, line: &mut String) {
    if !line.is_empty() {
        out.push_str(line);
        out.push('\n');
        line.clear();
    }
}

/// First digits from 0 to 9 for positive, then from 1 to 9 for negative numbers.
type Letters = (&'static [u8; 10], &'static [u8; 10]);

const SQUEEZED: Letters = (b"@ABCDEFGHI", b"@abcdefghi");
const DIFFERENCE: Letters = (b"%JKLMNOPQR", b"%jklmnopqr");
const REPEAT: Letters = (b" STUVWXYZs", b" STUVWXYZs");

fn lettered(count: i64, letters: Letters) -> String {
    let digits = count.unsigned_abs().to_string();
    let (first, rest) = digits.split_at(1);
    let table = if count < 0 { letters.1 } else { letters.0 };
    let digit = usize::from(first.as_bytes()[0] - b'0');
    let mut token = String::with_capacity(digits.len());
    token.push(char::from(table[digit]));
    token.push_str(rest);
    token
}

#[cfg(test)]
mod tests {
    use super::*;

    const X: Steps = Steps { first: 16383.0, step: -1.0 };

    #[test]
    fn the_worked_example_of_the_forms() {
        let counts = [-10247, 1201, -5196, 7245];
        let mut out = String::new();
        squeezed(&mut out, X, &counts);
        assert_eq!(out, "16383.00a0247A201e196G245\n");
        out.clear();
        differences(&mut out, X, &counts, false);
        assert_eq!(out, "16383.00a0247J1448o397J2441\n16380.00G245\n");
        out.clear();
        plain(&mut out, X, &[-10247.0, 1201.0], Encoding::Pac);
        assert_eq!(out, "16383.00-10247+1201\n");
        out.clear();
        differences(&mut out, X, &[5, 5, 5, 5, 5, 6], true);
        assert_eq!(out, "16383.00E%VJ\n16378.00F\n");
    }

    #[test]
    fn no_line_is_longer_than_the_standard_allows() {
        let counts: Vec<i64> = (0..5000).map(|i| (i * i * 7919) % 1_000_003 - 500_000).collect();
        let mut out = String::new();
        differences(&mut out, X, &counts, true);
        squeezed(&mut out, X, &counts);
        assert!(out.lines().all(|line| line.len() <= WIDTH));
    }
}
