//! A zone as CSV: a row a stretch, its middle as longitude and latitude, units in the column names.

use crate::output::zone::{Found, slug};
use crate::zone::judge::{Judged, MILESTONES};
use std::io;

/// Text that a spreadsheet would run as a formula is written with an apostrophe before it.
pub(super) fn harmless(text: &str) -> String {
    if text.starts_with(['=', '+', '-', '@', '\t', '\r']) { format!("'{text}") } else { text.to_string() }
}

const COLUMNS: [&str; 19] = [
    "stretch",
    "lon",
    "lat",
    "way",
    "road",
    "length_m",
    "buildings",
    "gap",
    "ceiling_gpm",
    "at_least_gpm",
    "one_lost_gpm",
    "bound_by",
    "fill_sites",
    "best_site",
    "best_site_gpm",
    "second_site",
    "second_site_gpm",
    "cycle_s",
    "start_s",
];

pub fn write(found: &Found, out: &mut dyn io::Write) -> io::Result<()> {
    let zone = found.zone;
    let network = &zone.ground.roads.network;
    let site = |index: u32| harmless(&zone.ground.sites[index as usize].site.name);
    let mut head: Vec<String> = COLUMNS.map(String::from).to_vec();
    head.extend(MILESTONES.iter().map(|flow| format!("tankers_{:.0}_gpm", flow.0)));
    head.extend(found.variants.iter().map(|variant| format!("{}_ceiling_gpm", slug(&variant.name))));
    // By stretch, its number from 1; 0 where it lies in none.
    let mut gap_of = vec![0; zone.stretches.len()];
    for (number, gap) in (1..).zip(found.gaps) {
        gap.stretches.iter().for_each(|i| gap_of[*i] = number);
    }
    let row = |i: usize, judged: &Judged| {
        let stretch = &zone.stretches[i];
        let way = &network.ways[network.segments[stretch.segment()].way as usize];
        let middle = stretch.spot(network).place;
        let fills: Vec<String> = judged.sites.iter().map(|s| site(*s)).collect();
        let alone = |nth: usize| match judged.alone.get(nth) {
            Some((index, gpm)) => (site(index), format!("{gpm:.1}")),
            None => (String::new(), String::new()),
        };
        let ((best, best_gpm), (second, second_gpm)) = (alone(0), alone(1));
        let mut row = vec![
            (i + 1).to_string(),
            middle.lon().to_string(),
            middle.lat().to_string(),
            way.id.to_string(),
            harmless(network.name(way)),
            format!("{:.1}", stretch.length(network).0),
            found.buildings.map_or(String::new(), |by_stretch| by_stretch[i].to_string()),
            Some(gap_of[i]).filter(|gap| *gap > 0).map_or(String::new(), |gap: u32| gap.to_string()),
            format!("{:.1}", judged.ceiling_gpm),
            format!("{:.1}", judged.at_least_gpm),
            format!("{:.1}", judged.one_lost_gpm),
            judged.bound_by.map_or("no-loop", |bound| bound.as_str()).to_string(),
            fills.join("; "),
            best,
            best_gpm,
            second,
            second_gpm,
            format!("{:.1}", judged.cycle_s),
            format!("{:.1}", judged.start_s),
        ];
        row.extend(judged.tankers_for.iter().map(|count| count.map_or(String::new(), |c| c.to_string())));
        row.extend(found.variants.iter().map(|variant| format!("{:.1}", variant.ceiling_gpm[i])));
        row
    };
    let mut rows = csv::Writer::from_writer(out);
    rows.write_record(&head)?;
    for part in found.judged.pieces() {
        let (first, part) = part.map_err(io::Error::other)?;
        (first..).zip(part.iter()).try_for_each(|(i, judged)| rows.write_record(row(i, judged)))?;
    }
    rows.flush()
}
