//! The pseudo-digits of compressed ordinates.
//!
//! Source of the table: McDonald and Wilks, Appl. Spectrosc. 1988, 42, 151.

/// What a byte can begin within a line of ordinates.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Start {
    /// Blank, tab, comma or semicolon between numbers.
    Separator,
    /// A plain digit.
    Digit,
    /// `+` or `-`.
    Sign,
    /// A decimal point.
    Point,
    /// First digit and sign of an absolute value.
    Squeezed,
    /// First digit and sign of a difference.
    Difference,
    /// First digit of a repeat count.
    Repeat,
    /// `?`, an ordinate that is missing.
    Gap,
    /// `$`, perhaps a comment.
    Dollar,
    /// Anything else.
    Other,
}

/// Class of every byte and, for the letters, the signed first digit.
pub(crate) const CLASS: [(Start, i8); 256] = classes();

const fn classes() -> [(Start, i8); 256] {
    let mut table = [(Start::Other, 0); 256];
    let mut digit = 0;
    while digit < 10 {
        table[b'0' as usize + digit] = (Start::Digit, digit as i8);
        digit += 1;
    }
    table[b' ' as usize] = (Start::Separator, 0);
    table[b'\t' as usize] = (Start::Separator, 0);
    table[0x0b] = (Start::Separator, 0);
    table[0x0c] = (Start::Separator, 0);
    table[0x1a] = (Start::Separator, 0);
    table[b',' as usize] = (Start::Separator, 0);
    table[b';' as usize] = (Start::Separator, 0);
    table[b'+' as usize] = (Start::Sign, 1);
    table[b'-' as usize] = (Start::Sign, -1);
    table[b'.' as usize] = (Start::Point, 0);
    table[b'?' as usize] = (Start::Gap, 0);
    table[b'$' as usize] = (Start::Dollar, 0);
    table[b'@' as usize] = (Start::Squeezed, 0);
    table[b'%' as usize] = (Start::Difference, 0);
    let mut value = 1;
    while value < 10 {
        let up = value as usize - 1;
        table[b'A' as usize + up] = (Start::Squeezed, value);
        table[b'a' as usize + up] = (Start::Squeezed, -value);
        table[b'J' as usize + up] = (Start::Difference, value);
        table[b'j' as usize + up] = (Start::Difference, -value);
        let repeat = if value == 9 { b's' } else { b'S' + up as u8 };
        table[repeat as usize] = (Start::Repeat, value);
        value += 1;
    }
    table
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_published_table() {
        let of = |c: char| CLASS[c as usize];
        for (i, c) in "@ABCDEFGHI".chars().enumerate() {
            assert_eq!(of(c), (Start::Squeezed, i as i8));
        }
        for (i, c) in "abcdefghi".chars().enumerate() {
            assert_eq!(of(c), (Start::Squeezed, -(i as i8) - 1));
        }
        for (i, c) in "%JKLMNOPQR".chars().enumerate() {
            assert_eq!(of(c), (Start::Difference, i as i8));
        }
        for (i, c) in "jklmnopqr".chars().enumerate() {
            assert_eq!(of(c), (Start::Difference, -(i as i8) - 1));
        }
        for (i, c) in "STUVWXYZs".chars().enumerate() {
            assert_eq!(of(c), (Start::Repeat, i as i8 + 1));
        }
        assert_eq!(of('t').0, Start::Other);
        assert_eq!(of('#').0, Start::Other);
    }
}
