//! The next event of a run. It is asked for more often than anything else.

/// The number of the earliest clock; of equals the first. Two runners, so that one comparison does not
/// wait for the one before; times are not negative, so their bits are in the order of the times.
pub(super) fn earliest(clock_s: &[f64]) -> usize {
    let (mut even, mut odd) = ((i64::MAX, 0), (i64::MAX, 0));
    let mut pairs = clock_s.chunks_exact(2);
    let mut at = 0;
    for pair in &mut pairs {
        let (a, b) = (pair[0].to_bits() as i64, pair[1].to_bits() as i64);
        even = if a < even.0 { (a, at) } else { even };
        odd = if b < odd.0 { (b, at + 1) } else { odd };
        at += 2;
    }
    if let [last] = pairs.remainder() {
        let a = last.to_bits() as i64;
        even = if a < even.0 { (a, at) } else { even };
    }
    if odd < even { odd.1 } else { even.1 }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_of_the_earliest() {
        let never = f64::INFINITY;
        for (clock_s, want) in [
            (vec![3.0], 0),
            (vec![never, 2.0], 1),
            (vec![5.0, 2.0, 1.0], 2),
            (vec![5.0, 1.0, 1.0, 4.0], 1),
            (vec![1.0, 2.0, 1.0, 1.0, 1.0], 0),
            (vec![7.0, 3.0, never, 8.0, 3.0], 1),
            (vec![never, 1e-9, 0.0, never], 2),
        ] {
            assert_eq!(earliest(&clock_s), want, "{clock_s:?}");
        }
        assert_eq!([never, never, never][earliest(&[never, never, never])], never);
    }
}
