//! The next event of a run. It is asked for more often than anything else.

use wide::f64x2;

/// Clocks are looked at so many together, two in a word; their number is a multiple of it.
const TOGETHER: usize = 8;

/// Clocks that never strike, at least so many.
pub(super) fn stopped(number: usize) -> Vec<f64> {
    vec![f64::INFINITY; number.next_multiple_of(TOGETHER)]
}

fn words(eight: &[f64; TOGETHER]) -> [f64x2; 4] {
    let [a, b, c, d, e, f, g, h] = *eight;
    [[a, b], [c, d], [e, f], [g, h]].map(f64x2::new)
}

/// The number of the earliest of clocks made by [`stopped`]; of equals the first. First the time, then who
/// has it: neither has a branch to guess wrong.
pub(super) fn earliest(clock_s: &[f64]) -> usize {
    let (eights, _) = clock_s.as_chunks::<TOGETHER>();
    let mut least = [f64x2::splat(f64::INFINITY); 4];
    for eight in eights {
        let words = words(eight);
        least = std::array::from_fn(|i| least[i].fast_min(words[i]));
    }
    let [a, b, c, d] = least;
    let [even, odd] = a.fast_min(b).fast_min(c.fast_min(d)).to_array();
    let first_s = f64x2::splat(if odd < even { odd } else { even });
    for (block, eights) in eights.chunks(64 / TOGETHER).enumerate() {
        let mut who = 0_u64;
        for (i, eight) in eights.iter().enumerate() {
            let [a, b, c, d] = words(eight).map(|word| word.simd_eq(first_s).to_bitmask());
            who |= u64::from(a | b << 2 | c << 4 | d << 6) << (i * TOGETHER);
        }
        if who != 0 {
            return block * 64 + who.trailing_zeros() as usize;
        }
    }
    0
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
            (vec![9.0; 70], 0),
            ([vec![9.0; 70], vec![8.0, 8.0]].concat(), 70),
        ] {
            let mut clocks = stopped(clock_s.len());
            clocks[..clock_s.len()].copy_from_slice(&clock_s);
            assert_eq!(earliest(&clocks), want, "{clock_s:?}");
        }
        assert_eq!(stopped(3)[earliest(&stopped(3))], never);
    }
}
