//! What the times of a block say of one site seen from one stretch.

use super::legs::{Known, Legs, NONE, at};
use super::stretches::Stretch;
use super::sweeps::graph;
use super::times::{Ms, Rows, TOGETHER, Table, turn_ms};
use super::whole;
use super::yields::Yields;
use crate::plan::ground::Ground;
use crate::plan::reach::QuickLoop;
use crate::roads::network::Arc;
use crate::routing::graph::RoadGraph;
use crate::routing::search::{Drive, Stand};

/// What a stretch's middle makes of the times of its segment, by leg and direction of each class: taken off
/// those of the loaded legs, which end before the arc does, and added to those of empty ones.
pub struct Middle {
    pub stands: [Stand; 2],
    rest: Vec<[[u32; 2]; 2]>,
}

impl Middle {
    pub fn of(ground: &Ground, stretch: &Stretch) -> Middle {
        let stands = stretch.stands();
        let rest = |graph: &RoadGraph| {
            stands.map(|at| if graph.is_open(at.arc) { graph.rest_ms(at.arc, at.fraction) } else { NONE })
        };
        Middle { stands, rest: ground.classes.iter().map(|c| [rest(&c.full), rest(&c.empty)]).collect() }
    }
}

impl Middle {
    fn segment(&self) -> usize {
        self.stands[0].arc.segment()
    }

    /// Milliseconds from the middle to the farther end of its arc.
    pub fn longest_rest_ms(&self) -> u32 {
        self.rest.iter().flatten().flatten().copied().filter(|ms| *ms != NONE).max().unwrap_or(0)
    }
}

/// A site seen from a stretch.
#[derive(Clone, Copy)]
pub struct Near<'r> {
    /// Index into the sites of the rows.
    pub site: usize,
    /// Of its classes and legs, ascending.
    tables: &'r [Table],
}

impl Near<'_> {
    /// One of which all times are known.
    pub fn swept(site: usize) -> Near<'static> {
        Near { site, tables: &[] }
    }
}

impl Rows<'_> {
    /// The sites with times to segments around a row, ascending.
    pub fn near(&self, row: usize) -> impl Iterator<Item = Near<'_>> {
        let swept = if self.whole.is_some() { self.sites.len() } else { 0 };
        self.in_tile(row / TOGETHER).chain((0..swept).map(|site| Near { site, tables: &[] }))
    }

    /// The same of `TOGETHER` rows.
    pub fn in_tile(&self, tile: usize) -> impl Iterator<Item = Near<'_>> {
        let of_site = self.tables[tile].chunk_by(|a, b| a.site == b.site);
        of_site.map(move |tables| Near { site: tables[0].site as usize, tables })
    }

    pub fn tiles(&self) -> usize {
        self.tables.len()
    }

    /// By class, milliseconds that a loaded and an empty leg take at least to anywhere on the segments of a tile.
    pub fn least_in_tile_ms(
        &self,
        ground: &Ground,
        tile: usize,
        near: &Near,
        least: &mut [Option<[u32; 2]>],
    ) {
        let segments = &self.segments[tile * TOGETHER..((tile + 1) * TOGETHER).min(self.segments.len())];
        let on_its_road = segments.contains(&self.fills[near.site].segment);
        let mut tables = near.tables.iter().peekable();
        for (class, least) in least.iter_mut().enumerate() {
            let mut both = [NONE; 2];
            for (leg, least) in both.iter_mut().enumerate() {
                let table = tables.next_if(|t| (t.class as usize, t.leg as usize) == (class, leg));
                let graph = &ground.classes[class].full;
                for (nth, segment) in segments.iter().enumerate() {
                    let known = table.map_or([NONE; 4], |table| table.rows[nth]);
                    for (direction, arc) in
                        [true, false].map(|f| Arc::new(*segment, f)).into_iter().enumerate()
                    {
                        let cut = self.cut_of(near.site, class, leg, tile * TOGETHER + nth, direction);
                        let ms = known[direction].min(known[direction + 2]).min(cut);
                        // A loaded leg ends on the arc, a time in the table at its end.
                        let most = if leg == 0 && graph.is_open(arc) { graph.ms(arc) } else { 0 };
                        *least = to_middle(ms, 0, most).min(*least);
                    }
                }
            }
            both = if on_its_road { [0; 2] } else { both };
            *least = Some(both).filter(|both| both[0].max(both[1]) <= self.longest_ms);
        }
    }

    /// All legs of so many milliseconds are known of a site.
    pub fn knows(&self, site: usize, ms: u32) -> bool {
        self.searched_ms[site] >= ms
    }

    pub fn longest_ms(&self) -> u32 {
        self.longest_ms
    }

    /// Legs up to this are known of a group's sites, counted to or from an arc's end; `NONE` where all are.
    fn cut_ms(&self, class: usize, leg: usize, group: usize, row: usize, direction: usize) -> u32 {
        let Some(of_leg) = self.farther.get(class * 2 + leg) else { return NONE };
        match of_leg[group][2 * row + direction] {
            // Fewer than were looked for are in reach: what is not known is longer than any leg may be.
            NONE => BEYOND,
            cut => cut,
        }
    }

    /// By class and leg, what a site of a group takes at least to the middle of a stretch that it is not near to.
    pub fn absent_ms(&self, group: usize, row: usize, middle: &Middle, least: &mut [Option<[u32; 2]>]) {
        for (class, least) in least.iter_mut().enumerate() {
            let of_leg = |leg: usize| {
                let of_direction = |direction| {
                    let cut = self.cut_ms(class, leg, group, row, direction);
                    to_middle(cut, leg, middle.rest[class][leg][direction])
                };
                of_direction(0).min(of_direction(1))
            };
            let both = [of_leg(0), of_leg(1)];
            *least = Some(both).filter(|both| both[0].max(both[1]) <= self.longest_ms);
        }
    }

    /// Both legs of a class.
    fn legs(&self, ground: &Ground, near: &Near, row: usize, class: usize, middle: &Middle) -> Legs {
        let fill = &self.fills[near.site];
        let graphs = &ground.classes[class];
        let mut legs = Legs { ms: [NONE; 8], bounds: 0 };
        let stands = fill.stands();
        for leg in 0..2 {
            let table = || near.tables.iter().find(|t| (t.class as usize, t.leg as usize) == (class, leg));
            let known: Ms = match &self.whole {
                Some(whole) => whole.ms(near.site, class, leg, row),
                None => table().map_or([NONE; 4], |table| table.rows[row % TOGETHER]),
            };
            let graph = graph(graphs, leg);
            for i in 0..4 {
                let (side, direction) = (i / 2, i % 2);
                let rest = middle.rest[class][leg][direction];
                if rest == NONE || !graph.is_open(stands[side].arc) {
                    continue;
                }
                let known = known[i];
                let cut = self.cut_of(near.site, class, leg, row, direction);
                legs.ms[leg * 4 + i] = to_middle(known.min(cut), leg, rest);
                legs.bounds |= u8::from(cut < known) << (leg * 4 + i);
            }
        }
        if fill.segment == middle.segment() {
            let (fill, dump) = (stands, middle.stands);
            for (side, direction) in [(0, 0), (0, 1), (1, 0), (1, 1)] {
                let mut along = |i: usize, ms: Option<u32>| {
                    if let Some(ms) = ms {
                        legs.ms[i] = ms;
                        legs.bounds &= !(1 << i);
                    }
                };
                along(at(0, side, direction), Drive::along_ms(&graphs.full, fill[side], dump[direction]));
                along(at(1, side, direction), Drive::along_ms(&graphs.empty, dump[direction], fill[side]));
            }
        }
        legs
    }

    /// The same of a site, however it came to be known.
    fn cut_of(&self, site: usize, class: usize, leg: usize, row: usize, direction: usize) -> u32 {
        let cut = self.cut_ms(class, leg, self.group_of[site] as usize, row, direction);
        match self.searched_ms[site] {
            NONE => NONE,
            searched => cut.max(searched + 1),
        }
    }

    /// By class, milliseconds that a loaded and an empty leg take at least, whatever turns they need, with little
    /// work. Whether anything is known of them but bounds.
    pub fn least_ms(
        &self,
        ground: &Ground,
        near: &Near,
        row: usize,
        middle: &Middle,
        least: &mut [Option<[u32; 2]>],
    ) -> bool {
        let on_its_road = self.fills[near.site].segment == middle.segment();
        let mut known_at_all = on_its_road;
        let mut tables = near.tables.iter().peekable();
        for (class, least) in least.iter_mut().enumerate() {
            let mut both = [NONE; 2];
            for (leg, least) in both.iter_mut().enumerate() {
                let table = tables.next_if(|t| (t.class as usize, t.leg as usize) == (class, leg));
                let row_of = table.map_or([NONE; 4], |table| table.rows[row % TOGETHER]);
                for direction in 0..2 {
                    let cut = self.cut_of(near.site, class, leg, row, direction);
                    let known = row_of[direction].min(row_of[direction + 2]);
                    known_at_all |= known <= cut && known != NONE;
                    *least = to_middle(known.min(cut), leg, middle.rest[class][leg][direction]).min(*least);
                }
            }
            if on_its_road {
                let legs = self.legs(ground, near, row, class, middle);
                both = [legs.least_ms(0), legs.least_ms(1)];
            }
            *least = Some(both).filter(|both| both[0].max(both[1]) <= self.longest_ms);
        }
        known_at_all
    }

    /// By class and site, the driving of both legs at least in seconds, infinite where they are too long; of all sites
    /// side by side, where their times were swept.
    pub fn least_driving_s(
        &self,
        ground: &Ground,
        yields: &Yields,
        row: usize,
        middle: &Middle,
    ) -> Vec<Vec<f64>> {
        let Some(whole) = &self.whole else { return Vec::new() };
        let longest_ms = self.longest_ms as f32;
        let room = self.sites.len().next_multiple_of(whole::TOGETHER);
        let (mut loaded, mut empty) = (Vec::with_capacity(room), Vec::with_capacity(room));
        let of_class = |class: usize| {
            let [rest_loaded, rest_empty] = middle.rest[class];
            whole.least(class, 0, row, rest_loaded, &mut loaded);
            whole.least(class, 1, row, rest_empty, &mut empty);
            let both = loaded.iter().zip(&empty).map(|(loaded, empty)| {
                let driving_s = yields.driving_s([*loaded, *empty].map(f64::from));
                if loaded.max(*empty) <= longest_ms { driving_s } else { f64::INFINITY }
            });
            both.collect()
        };
        let mut driving_s: Vec<Vec<f64>> = (0..ground.classes.len()).map(of_class).collect();
        let on_this_road = self.fills.iter().enumerate().filter(|(_, fill)| fill.segment == middle.segment());
        for (site, _) in on_this_road {
            for (class, driving_s) in driving_s.iter_mut().enumerate() {
                let legs = self.legs(ground, &Near::swept(site), row, class, middle);
                let both = [legs.least_ms(0), legs.least_ms(1)];
                let within = both[0].max(both[1]) <= self.longest_ms;
                driving_s[site] = if within { yields.driving_s(both.map(f64::from)) } else { f64::INFINITY };
            }
        }
        driving_s
    }

    /// By class: the quickest loop between a site and the middle of a stretch; or how far to search around the site
    /// for it, where it may need a leg that nobody looked for.
    pub fn quick_loops(
        &self,
        ground: &Ground,
        near: &Near,
        row: usize,
        middle: &Middle,
    ) -> Result<Vec<Option<QuickLoop>>, u32> {
        let turn_ms = turn_ms(ground);
        let of_class = |class: usize| {
            match self.legs(ground, near, row, class, middle).quickest(turn_ms, self.longest_ms) {
                Known::Loop(quick) => Ok(quick),
                // The times of tables are to and from the arc's end.
                Known::Unsure(ms) => Err(ms.saturating_add(middle.longest_rest_ms()).min(self.longest_ms)),
            }
        };
        let mut loops = Vec::with_capacity(ground.classes.len());
        for class in 0..ground.classes.len() {
            loops.push(of_class(class)?);
        }
        Ok(loops)
    }
}

/// Longer than any leg, and yet not `NONE`.
const BEYOND: u32 = NONE - 1;

/// A time to or from an arc's end made one to or from a stretch's middle.
fn to_middle(ms: u32, leg: usize, rest: u32) -> u32 {
    match ms {
        _ if rest == NONE => NONE,
        NONE | BEYOND => ms,
        ms if leg == 0 => ms.saturating_sub(rest),
        ms => ms + rest,
    }
}
