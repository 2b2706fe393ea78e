//! The sites around one stretch, those first that may yield most.

use super::block::Prepared;
use super::times::TOGETHER;
use super::view::{Middle, Near};

/// More sites are seldom looked at.
const MOST_AT_HAND: usize = 16;

/// The sites around a stretch as far as they were looked at.
pub struct Seen<'p> {
    prepared: &'p Prepared<'p, 'p>,
    row: usize,
    middle: &'p Middle,
    near: Vec<Near<'p>>,
    /// How many of the tile's were looked at.
    looked: usize,
    /// With what each yields at most, most first.
    pub by_yield: Vec<(f64, Near<'p>)>,
    /// All sites, where their times were swept, as long as they are not looked at.
    waiting: Vec<(f64, usize)>,
    /// Of which nothing is known here but that they yield no more.
    blank: Vec<(f64, usize)>,
    pub least: Vec<Option<[u32; 2]>>,
}

impl<'p> Seen<'p> {
    pub fn of(prepared: &'p Prepared<'p, 'p>, row: usize, middle: &'p Middle) -> Seen<'p> {
        let swept = prepared.rows.whole.is_some();
        Seen {
            prepared,
            row,
            middle,
            near: if swept { Vec::new() } else { prepared.rows.near(row).collect() },
            looked: 0,
            by_yield: Vec::with_capacity(MOST_AT_HAND),
            waiting: if swept { prepared.swept_gpm(row, middle).zip(0..).collect() } else { Vec::new() },
            blank: Vec::new(),
            least: vec![None; prepared.zone.ground.classes.len()],
        }
    }

    /// Looks at sites as long as one may yield what is asked, which may rise by what is found.
    pub fn look(&mut self, bar: impl Fn(&Seen) -> f64) {
        let Prepared { zone, rows, yields, tiles, .. } = self.prepared;
        let mut waiting = std::mem::take(&mut self.waiting);
        waiting.retain(|(gpm, site)| {
            let wanted = *gpm > 0.0 && *gpm >= bar(self);
            if wanted {
                self.insert(*gpm, Near::swept(*site));
            }
            !wanted && *gpm > 0.0
        });
        self.waiting = waiting;
        while let Some(&(at_most, place)) =
            tiles.get(self.row / TOGETHER).and_then(|tile| tile.get(self.looked))
        {
            if at_most < bar(self) || at_most <= 0.0 {
                return;
            }
            self.looked += 1;
            let near = self.near[place as usize];
            let known = rows.least_ms(&zone.ground, &near, self.row, self.middle, &mut self.least);
            let gpm = yields.at_most_gpm(rows.sites[near.site], &self.least);
            if !known {
                self.blank.push((gpm, near.site));
                continue;
            }
            self.insert(gpm, near);
        }
    }

    fn insert(&mut self, gpm: f64, near: Near<'p>) {
        let before = |known: &(f64, Near)| known.0 > gpm || (known.0 == gpm && known.1.site < near.site);
        let at = self.by_yield.partition_point(before);
        self.by_yield.insert(at, (gpm, near));
    }

    /// Blank sites that may pass a flow, with how far to search around them.
    pub fn blank(&mut self, bar: f64) -> Vec<(usize, u32)> {
        let Seen { prepared, row, middle, least, .. } = self;
        let mut lacking = Vec::new();
        for &(_, site) in self.blank.iter().filter(|(gpm, _)| *gpm > 0.0 && *gpm >= bar) {
            if let Some(near) = prepared.rows.near(*row).find(|near| near.site == site) {
                prepared.rows.least_ms(&prepared.zone.ground, &near, *row, middle, least);
                lacking.extend(prepared.to_search(site, bar, least, middle));
            }
        }
        lacking
    }
}
