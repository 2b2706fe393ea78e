//! Items in one list by number, in two passes and without sorting.

/// Where the items of each number below `numbers` start in the list, with its end last; and the list, those of one
/// number in the order in which they come. `items` gives the same items each time it is asked.
pub fn grouped<T: Copy, I: Iterator<Item = (usize, T)>>(
    numbers: usize,
    items: impl Fn() -> I,
) -> (Vec<u32>, Vec<T>) {
    let mut start = vec![0u32; numbers + 1];
    items().for_each(|(number, _)| start[number + 1] += 1);
    for number in 0..numbers {
        start[number + 1] += start[number];
    }
    let Some((_, any)) = items().next() else { return (start, Vec::new()) };
    let (mut next, mut list) = (start.clone(), vec![any; start[numbers] as usize]);
    for (number, item) in items() {
        list[next[number] as usize] = item;
        next[number] += 1;
    }
    (start, list)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn items_of_a_number_lie_together_in_their_order() {
        let items = [(2, 'a'), (0, 'b'), (2, 'c'), (4, 'd'), (0, 'e')];
        let (start, list) = grouped(5, || items.into_iter());
        assert_eq!(start, [0, 2, 2, 4, 4, 5]);
        assert_eq!(list, ['b', 'e', 'a', 'c', 'd']);
        assert_eq!(grouped(2, std::iter::empty::<(usize, u8)>), (vec![0; 3], vec![]));
    }
}
