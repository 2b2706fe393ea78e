//! Holds a network from a file to what a network cut from an extract always is: every index within
//! its list, every place on the earth, every length a length.

use crate::roads::network::Network;

/// Half of the earth's circumference and a little: no two points are farther apart.
const FARTHEST_M: f32 = 20_100_000.0;

pub fn damaged(what: &str) -> String {
    format!("the saved network is damaged, {what}")
}

/// Arcs are counted in 32 bits, two to a segment; so is whatever else is counted.
pub fn countable(count: usize) -> bool {
    count <= (u32::MAX / 2) as usize
}

pub fn check(network: &Network) -> Result<(), String> {
    let junctions = network.junctions.len();
    let (ways, points) = (network.ways.len(), network.points.len());
    if ways == 0 || !countable(network.segments.len()) || !countable(points) || !countable(junctions) {
        return Err(damaged("it has no roads, or more than can be counted"));
    }
    if !network.points.iter().all(|place| place.on_earth()) {
        return Err(damaged("a point is not on the earth"));
    }
    if !network.buildings.iter().flatten().all(|place| place.on_earth()) {
        return Err(damaged("a building is not on the earth"));
    }
    let within = |index: u32, count: usize| (index as usize) < count;
    let whole = network.segments.iter().all(|s| {
        let gaps = s.point_count.saturating_sub(1);
        within(s.from, junctions)
            && within(s.to, junctions)
            && within(s.way, ways)
            && gaps > 0
            && u64::from(s.first_point) + u64::from(s.point_count) <= points as u64
            // Not a number fails both.
            && s.length_m >= 0.0
            && s.length_m <= gaps as f32 * FARTHEST_M
    });
    if !whole {
        return Err(damaged("a segment refers to what is not there"));
    }
    if !network.junctions.iter().all(|j| j.place.on_earth() && j.mark as usize <= network.marks.len()) {
        return Err(damaged("a junction refers to what is not there"));
    }
    if !network.ways.iter().all(|way| within(way.name, network.names.len())) {
        return Err(damaged("a way refers to a name that is not there"));
    }
    if !network.bans.fits(network.arc_count()) {
        return Err(damaged("a turn restriction refers to a road that is not there"));
    }
    let (low, high) = (network.bounds.west_south, network.bounds.east_north);
    if low.lon_e7() > high.lon_e7() || low.lat_e7() > high.lat_e7() {
        return Err(damaged("its bounds are no box"));
    }
    Ok(())
}
