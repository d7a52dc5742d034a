//! The label of a record: `##DATA TYPE=` and all its spellings.

use nom::bytes::complete::{tag, take_while};
use nom::combinator::opt;
use nom::sequence::preceded;
use nom::{IResult, Parser};

/// A record's first line, taken apart.
#[derive(Debug, PartialEq, Eq)]
pub(crate) struct Opening<'a> {
    /// Normalised by [`normalise`].
    pub label: String,
    /// What follows the equals sign on the same line.
    pub value: &'a [u8],
    /// Whether there was an equals sign.
    pub equals: bool,
}

/// Upper case without blanks, dashes, slashes and underscores; a leading `.` or `$` stays.
///
/// `JCAMP-DX`, `JCAMP_DX` and `JCAMPDX` are one label.
pub(crate) fn normalise(label: &[u8]) -> String {
    label
        .iter()
        .filter(|b| b.is_ascii_graphic() && !matches!(b, b'-' | b'/' | b'_'))
        .map(|b| char::from(b.to_ascii_uppercase()))
        .collect()
}

/// Takes a line apart when it opens a record: `##` as the first characters that are not blank.
pub(crate) fn opening(line: &[u8]) -> Option<Opening<'_>> {
    let (_, opening) = record_start(line).ok()?;
    Some(opening)
}

fn record_start(line: &[u8]) -> IResult<&[u8], Opening<'_>> {
    let (rest, _) = take_while(crate::lines::is_blank)(line)?;
    let (rest, label) = preceded(tag("##".as_bytes()), take_while(|b| b != b'=' && b != b'$')).parse(rest)?;
    // A private label starts with one `$`; two open a comment.
    let (rest, private) = match rest {
        [b'$', b'$', ..] => (rest, &b""[..]),
        [b'$', ..] => take_while(|b| b != b'=')(rest)?,
        _ => (rest, &b""[..]),
    };
    let (rest, sign) = opt(tag("=".as_bytes())).parse(rest)?;
    let label = normalise(label) + &normalise(private);
    Ok((&[], Opening { label, value: rest, equals: sign.is_some() }))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spellings_of_one_label_agree() {
        for line in
            ["##DATA TYPE= x", "  ##Data-Type=x", "##DATA_TYPE =x", "##datatype=x", "## DATA/TYPE = x"]
        {
            assert_eq!(opening(line.as_bytes()).unwrap().label, "DATATYPE", "{line}");
        }
        assert_eq!(opening(b"##.OBSERVE FREQUENCY= 400").unwrap().label, ".OBSERVEFREQUENCY");
        assert_eq!(opening(b"##$GRPDLY= 68").unwrap().label, "$GRPDLY");
        assert_eq!(opening(b"##$A/B_C D= 68").unwrap().label, "$ABCD");
    }

    #[test]
    fn comments_and_continuations_open_nothing() {
        assert_eq!(opening(b"$$ ##END="), None);
        assert_eq!(opening(b"12 ##END="), None);
        let end = opening(b"##END $$ bye").unwrap();
        assert_eq!((end.label.as_str(), end.equals), ("END", false));
        assert_eq!(opening(b"##= a comment").unwrap().label, "");
    }
}
