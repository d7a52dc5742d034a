//! Names as people type them.

/// Lower case, letters and digits only, so that `N,N-Dimethylformamide` and `n n dimethylformamide` are one.
///
/// ```
/// use lees_match::table::plain_name;
/// assert_eq!((plain_name("<CDCl3>"), plain_name("CDCl\u{2083}")), ("cdcl3".into(), "cdcl3".into()));
/// ```
#[must_use]
pub fn plain_name(name: &str) -> String {
    if name.is_ascii() {
        return name.chars().filter(char::is_ascii_alphanumeric).map(|c| c.to_ascii_lowercase()).collect();
    }
    name.chars()
        .map(lees_core::on_the_line)
        .filter(|c| c.is_alphanumeric())
        .flat_map(char::to_lowercase)
        .collect()
}

/// The candidate whose plain form differs least from `name`, if at most a third of it differs.
pub(crate) fn nearest<'a>(name: &str, candidates: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    let wanted = plain_name(name);
    let allowed = (wanted.chars().count() / 3).max(1);
    candidates
        .map(|candidate| (distance(&wanted, &plain_name(candidate)), candidate))
        .filter(|(distance, _)| *distance <= allowed)
        .min_by_key(|(distance, _)| *distance)
        .map(|(_, candidate)| candidate)
}

/// Edit distance (insertions, deletions, replacements).
fn distance(a: &str, b: &str) -> usize {
    let b: Vec<char> = b.chars().collect();
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, ca) in a.chars().enumerate() {
        let mut diagonal = row[0];
        row[0] = i + 1;
        for (j, cb) in b.iter().enumerate() {
            let replaced = diagonal + usize::from(ca != *cb);
            diagonal = row[j + 1];
            row[j + 1] = replaced.min(row[j] + 1).min(diagonal + 1);
        }
    }
    row[b.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slip_of_the_keyboard_finds_its_name() {
        let names = ["2-propanol", "1-propanol", "toluene"];
        assert_eq!(nearest("tolune", names.into_iter()), Some("toluene"));
        assert_eq!(nearest("2 Propanole", names.into_iter()), Some("2-propanol"));
        assert_eq!(nearest("water", names.into_iter()), None);
    }

    #[test]
    fn edit_distance_counts_single_letters() {
        assert_eq!(distance("kitten", "sitting"), 3);
        assert_eq!(distance("", "abc"), 3);
    }
}
