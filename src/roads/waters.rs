//! Open water of an extract. Read apart from the roads, and only when new fill sites are looked for.

use crate::roads::saved;
use crate::roads::shapes::{self, Shapes, Wanted};
use crate::roads::tags::{NoWater, OpenWater, open_water_area, open_water_line};
use std::collections::BTreeMap;
use std::path::Path;

/// Waters that a pump might draft from, and how many others there are by the reason why they are none.
#[derive(Clone, Debug)]
pub struct Waters {
    pub shapes: Shapes<OpenWater>,
    pub left_out: BTreeMap<NoWater, usize>,
}

/// Reads an `.osm.pbf`, or the one that a saved network was made from. The error says in words why there is
/// none.
pub fn read(path: &Path) -> Result<Waters, String> {
    let extract = saved::extract_of(path).map_err(|e| format!("open water is not known: {e}"))?;
    let wanted = Wanted { area: &open_water_area, line: &open_water_line, node: &mut |_, _| {} };
    let Shapes { areas, lines } = shapes::read(&extract, wanted)
        .map_err(|e| format!("open water cannot be read from {} ({e})", extract.display()))?;
    let mut left_out = BTreeMap::new();
    let mut kept = Shapes { areas: Vec::new(), lines: Vec::new() };
    for shapes::Area { kind, osm, outer, holes } in areas {
        match kind {
            Ok(kind) => kept.areas.push(shapes::Area { kind, osm, outer, holes }),
            Err(why) => *left_out.entry(why).or_insert(0) += 1,
        }
    }
    for shapes::Line { kind, osm, line } in lines {
        match kind {
            Ok(kind) => kept.lines.push(shapes::Line { kind, osm, line }),
            Err(why) => *left_out.entry(why).or_insert(0) += 1,
        }
    }
    Ok(Waters { shapes: kept, left_out })
}
