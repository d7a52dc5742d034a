//! The objects of a PDF file in an order of their own: the converter numbers fonts by chance, and the same picture shall give
//! the same bytes (file structure after ISO 32000-1:2008, 7.5, cited from memory).

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::ops::Range;

/// The file with its objects numbered in the order in which they are reached from the trailer; what none refers to is left out.
/// A file of another structure than the converter's comes back as it was.
pub(crate) fn ordered(pdf: Vec<u8>) -> Vec<u8> {
    rewritten(&pdf).unwrap_or(pdf)
}

fn rewritten(pdf: &[u8]) -> Option<Vec<u8>> {
    let start = rfind(pdf, b"startxref")?;
    let table: usize = number(pdf.get(start + 9..)?)?;
    let trailer = table + find(pdf.get(table..start)?, b"trailer")?;
    let offsets = offsets(pdf.get(table..trailer)?)?;
    let objects = objects(pdf, &offsets, table)?;
    let (mut order, mut numbers) = (Vec::new(), BTreeMap::new());
    let mut reach = |text: &[u8], order: &mut Vec<usize>| {
        for old in references(text).into_iter().map(|(_, old)| old) {
            if objects.contains_key(&old) && !numbers.contains_key(&old) {
                order.push(old);
                numbers.insert(old, order.len());
            }
        }
    };
    reach(&pdf[trailer..start], &mut order);
    let mut next = 0;
    while let Some(&old) = order.get(next) {
        reach(&objects[&old].0, &mut order);
        next += 1;
    }
    let mut out = pdf.get(..*offsets.values().min()?)?.to_vec();
    let mut places = Vec::new();
    for old in &order {
        let (text, rest) = &objects[old];
        places.push(out.len());
        out.extend_from_slice(format!("{} 0 obj", numbers[old]).as_bytes());
        renumbered(text, &numbers, &mut out);
        out.extend_from_slice(&pdf[rest.clone()]);
    }
    let at = out.len();
    let mut tail = format!("xref\n0 {}\n0000000000 65535 f\r\n", places.len() + 1);
    for place in &places {
        let _ = write!(tail, "{place:010} 00000 n\r\n");
    }
    out.extend_from_slice(tail.as_bytes());
    let size = format!("/Size {}", offsets.keys().max()? + 1);
    let mut last = Vec::new();
    renumbered(&pdf[trailer..start], &numbers, &mut last);
    let with_size = find(&last, size.as_bytes())?;
    out.extend_from_slice(&last[..with_size]);
    out.extend_from_slice(format!("/Size {}", places.len() + 1).as_bytes());
    out.extend_from_slice(&last[with_size + size.len()..]);
    out.extend_from_slice(format!("startxref\n{at}\n%%EOF").as_bytes());
    Some(out)
}

/// Where each object in use starts, from a cross-reference table of one section.
fn offsets(table: &[u8]) -> Option<BTreeMap<usize, usize>> {
    let text = std::str::from_utf8(table).ok()?;
    let mut lines = text.lines().skip(1);
    let (first, count) = lines.next()?.trim().split_once(' ')?;
    let (first, count): (usize, usize) = (first.parse().ok()?, count.parse().ok()?);
    let mut found = BTreeMap::new();
    for number in first..first + count {
        let mut words = lines.next()?.split_whitespace();
        let offset = words.next()?.parse().ok()?;
        if words.nth(1)? == "n" {
            found.insert(number, offset);
        }
    }
    Some(found)
}

/// The text of an object, where references stand, and the rest: a stream, or its end.
type Object = (Vec<u8>, Range<usize>);

/// The objects by their numbers.
fn objects(pdf: &[u8], offsets: &BTreeMap<usize, usize>, end: usize) -> Option<BTreeMap<usize, Object>> {
    let mut starts: Vec<usize> = offsets.values().copied().collect();
    starts.sort_unstable();
    offsets
        .iter()
        .map(|(&number, &start)| {
            let stop = starts[starts.partition_point(|s| *s <= start)..].first().copied().unwrap_or(end);
            let head = format!("{number} 0 obj");
            let body = start + head.len();
            let all = pdf.get(start..stop).filter(|all| all.starts_with(head.as_bytes()))?;
            let split = find(all, b"\nstream").or_else(|| rfind(all, b"endobj"))? + start;
            let split = split.max(body);
            Some((number, (sorted(&pdf[body..split]), split..stop)))
        })
        .collect()
}

/// The text with neighbouring lines that are entries of a dictionary, a name and a reference, in order of their names.
fn sorted(text: &[u8]) -> Vec<u8> {
    let is_entry = |line: &&[u8]| {
        let words: Vec<&[u8]> = line.split(u8::is_ascii_whitespace).filter(|word| !word.is_empty()).collect();
        matches!(words[..], [name, digits, b"0", b"R"]
            if name.starts_with(b"/") && digits.iter().all(u8::is_ascii_digit))
    };
    let mut lines: Vec<&[u8]> = text.split(|c| *c == b'\n').collect();
    for run in lines.chunk_by_mut(|a, b| is_entry(a) && is_entry(b)) {
        run.sort_unstable();
    }
    lines.join(&b'\n')
}

/// References in an object's text: the digits of each number, and the number. Strings in parentheses are passed over.
fn references(text: &[u8]) -> Vec<(Range<usize>, usize)> {
    let (mut found, mut at, mut depth) = (Vec::new(), 0, 0u32);
    while at < text.len() {
        match text[at] {
            b'\\' if depth > 0 => at += 1,
            b'(' => depth += 1,
            b')' => depth = depth.saturating_sub(1),
            b'0'..=b'9' if depth == 0 => {
                let digits = text[at..].iter().take_while(|c| c.is_ascii_digit()).count();
                let apart =
                    at == 0 || !(text[at - 1].is_ascii_alphanumeric() || b".-+#".contains(&text[at - 1]));
                if apart && text[at + digits..].starts_with(b" 0 R") {
                    found.extend(number(&text[at..]).map(|old| (at..at + digits, old)));
                }
                at += digits - 1;
            }
            _ => {}
        }
        at += 1;
    }
    found
}

/// Writes a text with the new numbers in its references.
fn renumbered(text: &[u8], numbers: &BTreeMap<usize, usize>, out: &mut Vec<u8>) {
    let mut done = 0;
    for (digits, old) in references(text) {
        if let Some(new) = numbers.get(&old) {
            out.extend_from_slice(&text[done..digits.start]);
            out.extend_from_slice(new.to_string().as_bytes());
            done = digits.end;
        }
    }
    out.extend_from_slice(&text[done..]);
}

fn find(text: &[u8], word: &[u8]) -> Option<usize> {
    memchr::memmem::find(text, word)
}

fn rfind(text: &[u8], word: &[u8]) -> Option<usize> {
    memchr::memmem::rfind(text, word)
}

/// The number that a text starts with, space before it passed over.
fn number(text: &[u8]) -> Option<usize> {
    let text = text.trim_ascii_start();
    let digits = text.iter().take_while(|c| c.is_ascii_digit()).count();
    std::str::from_utf8(&text[..digits]).ok()?.parse().ok()
}

#[cfg(test)]
mod tests {
    use super::*;
    use pdf_writer::{Finish, Name, Pdf, Ref};

    const NAMES: [&[u8]; 2] = [b"Helvetica", b"Courier"];

    /// One page with two fonts; the numbers of the fonts are given, and they are listed and written the second first or last.
    fn page(fonts: [i32; 2], swapped: bool) -> Vec<u8> {
        let mut pdf = Pdf::new();
        pdf.catalog(Ref::new(1)).pages(Ref::new(2));
        pdf.pages(Ref::new(2)).kids([Ref::new(3)]).count(1);
        let mut page = pdf.page(Ref::new(3));
        page.parent(Ref::new(2)).contents(Ref::new(4));
        let mut resources = page.resources();
        let order = if swapped { [1, 0] } else { [0, 1] };
        let mut listed = resources.fonts();
        for k in order {
            listed.pair(Name([b"A", b"B"][k]), Ref::new(fonts[k]));
        }
        listed.finish();
        resources.finish();
        page.finish();
        pdf.stream(Ref::new(4), b"BT (1 0 R 2 0 R) Tj ET");
        for k in order {
            pdf.type1_font(Ref::new(fonts[k])).base_font(Name(NAMES[k]));
        }
        pdf.finish()
    }

    #[test]
    fn chance_in_numbers_and_order_is_gone() {
        let (one, other) = (page([5, 6], false), page([6, 5], true));
        assert_ne!(one, other);
        let done = ordered(one);
        assert_eq!(done, ordered(other));
        assert_eq!(done, ordered(done.clone()), "nothing is left to be done");
    }

    #[test]
    fn every_object_stands_where_the_table_says_and_streams_are_as_they_were() {
        let done = ordered(page([9, 7], true));
        let table = number(&done[rfind(&done, b"startxref").unwrap() + 9..]).unwrap();
        let trailer = table + find(&done[table..], b"trailer").unwrap();
        let places = offsets(&done[table..trailer]).unwrap();
        assert_eq!(places.keys().copied().collect::<Vec<_>>(), (1..=6).collect::<Vec<_>>());
        for (number, place) in places {
            assert!(done[place..].starts_with(format!("{number} 0 obj\n").as_bytes()), "object {number}");
        }
        assert!(find(&done, b"BT (1 0 R 2 0 R) Tj ET").is_some());
        assert!(find(&done[trailer..], b"/Size 7").is_some());
    }

    #[test]
    fn what_is_no_pdf_comes_back() {
        for text in ["", "startxref 5", "%PDF-1.7 startxref 0 xref"] {
            assert_eq!(ordered(text.into()), text.as_bytes());
        }
    }
}
