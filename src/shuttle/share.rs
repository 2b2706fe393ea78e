//! Several fill sites on one main or pond: what it gives, they share.
//!
//! The parts are fixed before the shuttle runs: each site gets of the whole in proportion to the
//! water its tankers carry, and no more than its own outlet gives; what one cannot take goes to the
//! others. A fixed part is never more than the site would get of a main shared as it is needed, so
//! the plan errs to the lower side.

use crate::units::{Gallons, GallonsPerMinute};

/// A main or pond that sites share.
#[derive(Clone, Debug, PartialEq)]
pub struct Main {
    pub name: String,
    /// What all sites on it get together, where that is known.
    pub flow: Option<GallonsPerMinute>,
}

/// A site of an option.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// Name of the main or pond it shares.
    pub shares: Option<String>,
    /// What all sites on it get together, where the list says so.
    pub shared_flow: Option<GallonsPerMinute>,
    /// What its own outlet gives.
    pub flow: GallonsPerMinute,
    pub volume: Option<Gallons>,
    /// Usable loads of the tankers that fill there, together.
    pub loads: Gallons,
}

/// Cuts flow and volume of sites that share a source to their parts. A main gives what the list says,
/// at the least where it says several things, else what its best outlet was found to give alone; a
/// pond holds what the list says, at the most where sites say several things, since each may see a
/// part of it only. True if any site shares.
pub fn share_out(parts: &mut [Part]) -> bool {
    let mut names: Vec<String> = parts.iter().filter_map(|part| part.shares.clone()).collect();
    names.sort_unstable();
    names.dedup();
    let mut any = false;
    for name in names {
        let members: Vec<usize> =
            (0..parts.len()).filter(|i| parts[*i].shares.as_ref() == Some(&name)).collect();
        let stated = members.iter().filter_map(|i| parts[*i].shared_flow).reduce(GallonsPerMinute::min);
        let best = members.iter().map(|i| parts[*i].flow).fold(GallonsPerMinute::ZERO, GallonsPerMinute::max);
        let volume = members.iter().filter_map(|i| parts[*i].volume).reduce(Gallons::max);
        share_flow(parts, &members, stated.unwrap_or(best));
        let loads: f64 = members.iter().map(|i| parts[*i].loads.0).sum();
        for i in &members {
            parts[*i].volume = volume.map(|all| all * (parts[*i].loads.0 / loads.max(1e-9)));
        }
        any |= members.len() > 1;
    }
    any
}

/// Gives each member its proportion; who is full leaves the rest to the others.
fn share_flow(parts: &mut [Part], members: &[usize], whole: GallonsPerMinute) {
    let mut open = members.to_vec();
    let mut left = whole.0;
    loop {
        let loads: f64 = open.iter().map(|i| parts[*i].loads.0).sum();
        let fair = |part: &Part| left * part.loads.0 / loads.max(1e-9);
        let full = |i: &usize| parts[*i].flow.0 <= fair(&parts[*i]);
        let (done, rest): (Vec<usize>, Vec<usize>) = open.iter().partition(|i| full(i));
        if done.is_empty() || rest.is_empty() {
            for i in open {
                let part = fair(&parts[i]);
                parts[i].flow = parts[i].flow.min(GallonsPerMinute(part));
            }
            return;
        }
        left -= done.iter().map(|i| parts[*i].flow.0).sum::<f64>();
        open = rest;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn part(shares: Option<&str>, flow: f64, loads: f64) -> Part {
        Part {
            shares: shares.map(str::to_string),
            shared_flow: None,
            flow: GallonsPerMinute(flow),
            volume: None,
            loads: Gallons(loads),
        }
    }

    fn flows(mut parts: Vec<Part>) -> Vec<f64> {
        share_out(&mut parts);
        parts.iter().map(|p| p.flow.0).collect()
    }

    #[test]
    fn a_main_gives_its_flow_once() {
        let main = Some("east main");
        // 900 gpm by loads of 1 and 2; a site of its own is left alone.
        assert_eq!(
            flows(vec![part(main, 900.0, 1_000.0), part(main, 900.0, 2_000.0), part(None, 500.0, 1_000.0)]),
            [300.0, 600.0, 500.0]
        );
        // 800 for three alike; one passes 100 only: 350 for each of the others.
        let mut three = vec![part(main, 800.0, 1.0), part(main, 100.0, 1.0), part(main, 700.0, 1.0)];
        assert_eq!(flows(three.clone()), [350.0, 100.0, 350.0]);
        // The list says what the main gives.
        three[1].shared_flow = Some(GallonsPerMinute(400.0));
        assert_eq!(flows(three), [150.0, 100.0, 150.0]);
        // Alone on its main a site keeps its flow, unless the main gives less.
        assert_eq!(flows(vec![part(main, 800.0, 1.0)]), [800.0]);
    }

    #[test]
    fn a_pond_is_emptied_once() {
        let pond = |volume, loads| Part { volume, ..part(Some("mill pond"), 500.0, loads) };
        let mut parts = vec![pond(Some(Gallons(30_000.0)), 1_000.0), pond(None, 2_000.0)];
        assert!(share_out(&mut parts));
        let volumes: Vec<f64> = parts.iter().map(|p| p.volume.unwrap().0).collect();
        assert_eq!(volumes, [10_000.0, 20_000.0]);
        assert!(!share_out(&mut [pond(None, 1.0)]));
    }

    /// Random groups: the sum never passes the whole, nobody passes its own outlet, and nothing is left
    /// while somebody could take it.
    #[test]
    fn shares_add_up() {
        use rand::{RngExt, SeedableRng};
        let mut dice = rand_pcg::Pcg64Mcg::seed_from_u64(5);
        for _ in 0..500 {
            let before: Vec<Part> = (0..dice.random_range(1..6))
                .map(|_| part(Some("m"), dice.random_range(50.0..1_000.0), dice.random_range(500.0..5_000.0)))
                .collect();
            let whole = before.iter().map(|p| p.flow.0).fold(0.0, f64::max);
            let mut after = before.clone();
            share_out(&mut after);
            let sum: f64 = after.iter().map(|p| p.flow.0).sum();
            assert!(sum <= whole + 1e-6);
            assert!(before.iter().zip(&after).all(|(b, a)| a.flow.0 <= b.flow.0 + 1e-9 && a.flow.0 > 0.0));
            let full = before.iter().zip(&after).all(|(b, a)| b.flow.0 - a.flow.0 < 1e-6);
            assert!((sum - whole).abs() < 1e-6 || full, "{before:?} {after:?}");
        }
    }
}
