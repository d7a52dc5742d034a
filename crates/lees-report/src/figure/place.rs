//! Labels side by side: the least total displacement without overlap and without changing the order.

/// Centres for labels of the given widths, as near as can be (least squares) to the wanted centres, which must
/// rise, at least `gap` apart and within `low..high`. `None` when they don't fit.
///
/// This is isotonic regression after taking the widths out: pool adjacent violators (Ayer, Brunk, Ewing, Reid,
/// Silverman, Ann. Math. Stat. 1955, 26, 641; reference from memory).
pub(super) fn place(wanted: &[f64], widths: &[f64], gap: f64, low: f64, high: f64) -> Option<Vec<f64>> {
    let total: f64 = widths.iter().sum::<f64>() + gap * widths.len().saturating_sub(1) as f64;
    if total > high - low {
        return None;
    }
    let mut offset = 0.0;
    let mut offsets = Vec::with_capacity(widths.len());
    for width in widths {
        offsets.push(offset + width / 2.0);
        offset += width + gap;
    }
    let starts: Vec<f64> = wanted.iter().zip(&offsets).map(|(w, o)| w - o).collect();
    let pooled = isotonic(&starts);
    Some(pooled.iter().zip(&offsets).map(|(s, o)| s.clamp(low, high - total) + o).collect())
}

fn isotonic(values: &[f64]) -> Vec<f64> {
    let mut blocks: Vec<(f64, usize)> = Vec::new();
    for &value in values {
        let mut block = (value, 1);
        while let Some(&last) = blocks.last().filter(|last| last.0 > block.0) {
            blocks.pop();
            let count = last.1 + block.1;
            block = ((last.0 * last.1 as f64 + block.0 * block.1 as f64) / count as f64, count);
        }
        blocks.push(block);
    }
    blocks.iter().flat_map(|&(value, count)| std::iter::repeat_n(value, count)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn free_labels_stay_where_they_are() {
        assert_eq!(place(&[10.0, 30.0], &[8.0, 8.0], 1.0, 0.0, 100.0), Some(vec![10.0, 30.0]));
    }

    #[test]
    fn crowded_labels_spread_evenly_about_their_middle() {
        assert_eq!(place(&[50.0, 50.0, 50.0], &[9.0; 3], 1.0, 0.0, 100.0), Some(vec![40.0, 50.0, 60.0]));
    }

    #[test]
    fn the_edges_hold() {
        assert_eq!(place(&[0.0, 1.0], &[10.0, 10.0], 0.0, 0.0, 100.0), Some(vec![5.0, 15.0]));
        assert_eq!(place(&[0.0, 1.0], &[60.0, 60.0], 0.0, 0.0, 100.0), None);
    }
}
