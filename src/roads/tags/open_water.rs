//! Tags of open water that a pump might draft from. Meanings follow the OpenStreetMap wiki: "Tag:natural=water",
//! "Key:water", "Key:waterway", "Tag:landuse=basin", "Tag:natural=coastline".

use super::{Tags, get, yes};
use crate::units::Metres;

/// What open water is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum OpenWaterKind {
    /// A lake, pond, reservoir or basin.
    Still,
    River,
    Canal,
    Stream,
    Sea,
}

impl OpenWaterKind {
    pub fn as_str(self) -> &'static str {
        match self {
            OpenWaterKind::Still => "standing water",
            OpenWaterKind::River => "river",
            OpenWaterKind::Canal => "canal",
            OpenWaterKind::Stream => "stream",
            OpenWaterKind::Sea => "sea",
        }
    }
}

/// Why water that is mapped is none to draft from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum NoWater {
    /// `intermittent=yes`, `seasonal`, or a basin that holds water only after rain.
    NotAlways,
    /// In a culvert, a tunnel or under a roof.
    Covered,
    /// Waste water, fountains, pools.
    NotForThis,
    /// A stream with neither name nor width, or one mapped as narrow.
    Small,
    /// The sea where no quay is mapped: at low tide it may be far off.
    Shore,
}

impl NoWater {
    pub fn as_str(self) -> &'static str {
        match self {
            NoWater::NotAlways => "mapped as there at times only",
            NoWater::Covered => "in a culvert or tunnel, or covered",
            NoWater::NotForThis => "waste water, a fountain or a pool",
            NoWater::Small => "a stream with neither name nor width, or a narrow one",
            NoWater::Shore => "seashore without a mapped quay",
        }
    }
}

/// A stream mapped as narrower is left out (common practice, no source: a strainer wants two feet of water on all
/// sides, which so narrow a stream seldom has).
const LEAST_WIDTH: Metres = Metres(1.0);

/// Open water as tagged. Depth, yield and who may draw from it are not tagged.
#[derive(Clone, Debug, PartialEq)]
pub struct OpenWater {
    pub kind: OpenWaterKind,
    pub name: String,
    /// Of a line; its banks lie half as far to either side.
    pub width: Option<Metres>,
    /// Mapped as salt or tidal, or a harbour, or the sea: it may be either.
    pub salt: bool,
}

type Found = Option<Result<OpenWater, NoWater>>;

/// Reads a closed way or a multipolygon; none where it is no water.
pub fn open_water_area(tags: &Tags) -> Found {
    let water = get(tags, "water");
    let kind = match (get(tags, "natural"), get(tags, "landuse"), get(tags, "waterway")) {
        (Some("water"), ..) => match water {
            Some("river" | "oxbow") => OpenWaterKind::River,
            Some("canal" | "lock") => OpenWaterKind::Canal,
            Some("stream" | "ditch" | "drain") => OpenWaterKind::Stream,
            _ => OpenWaterKind::Still,
        },
        (_, Some("reservoir" | "basin"), _) => OpenWaterKind::Still,
        (.., Some("riverbank")) => OpenWaterKind::River,
        (.., Some("dock")) => OpenWaterKind::Canal,
        _ => return None,
    };
    let rain = matches!(get(tags, "basin"), Some("detention" | "infiltration"));
    let other = matches!(water, Some("wastewater" | "fountain" | "reflecting_pool" | "fish_pass"))
        || matches!(get(tags, "reservoir_type"), Some("sewage" | "tailings" | "evaporator"));
    Some(if rain {
        Err(NoWater::NotAlways)
    } else if other {
        Err(NoWater::NotForThis)
    } else {
        checked(tags, kind, None)
    })
}

/// Reads a way along which water runs, or the coast; none where it is no water.
pub fn open_water_line(tags: &Tags) -> Found {
    let kind = match (get(tags, "waterway"), get(tags, "natural")) {
        (Some("river"), _) => OpenWaterKind::River,
        (Some("canal"), _) => OpenWaterKind::Canal,
        (Some("stream"), _) => OpenWaterKind::Stream,
        (_, Some("coastline")) => OpenWaterKind::Sea,
        _ => return None,
    };
    let width = get(tags, "width").or_else(|| get(tags, "est_width")).and_then(|text| text.parse().ok());
    let unnamed = get(tags, "name").is_none();
    let small = match (kind, width) {
        (OpenWaterKind::Sea, _) => false,
        (_, Some(Metres(width))) => width < LEAST_WIDTH.0,
        (kind, None) => kind == OpenWaterKind::Stream && unnamed,
    };
    let quay = matches!(get(tags, "man_made"), Some("quay" | "pier"));
    Some(match kind {
        OpenWaterKind::Sea if !quay => Err(NoWater::Shore),
        _ if small => Err(NoWater::Small),
        _ => checked(tags, kind, width),
    })
}

fn checked(tags: &Tags, kind: OpenWaterKind, width: Option<Metres>) -> Result<OpenWater, NoWater> {
    if yes(tags, "intermittent") || yes(tags, "seasonal") {
        return Err(NoWater::NotAlways);
    }
    let below = matches!(get(tags, "location"), Some("underground" | "indoor"));
    if yes(tags, "tunnel") || yes(tags, "covered") || yes(tags, "culvert") || below {
        return Err(NoWater::Covered);
    }
    let name = get(tags, "name").unwrap_or_default().to_string();
    let harbour = matches!(get(tags, "water"), Some("harbour" | "lagoon"))
        || get(tags, "leisure") == Some("marina")
        || get(tags, "seamark:type") == Some("harbour");
    let marked = ["salt", "tidal", "harbour", "access:tide"].iter().any(|key| yes(tags, key));
    let salt = kind == OpenWaterKind::Sea || harbour || marked;
    Ok(OpenWater { kind, name, width, salt })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_water_to_draft_from() {
        let kind = |found: Found| found.map(|found| found.map(|water| (water.kind, water.salt)));
        let area = |tags: &Tags| kind(open_water_area(tags));
        let line = |tags: &Tags| kind(open_water_line(tags));
        assert_eq!(area(&[("natural", "water")]), Some(Ok((OpenWaterKind::Still, false))));
        assert_eq!(
            area(&[("natural", "water"), ("water", "river")]),
            Some(Ok((OpenWaterKind::River, false)))
        );
        assert_eq!(
            area(&[("landuse", "reservoir"), ("salt", "yes")]),
            Some(Ok((OpenWaterKind::Still, true)))
        );
        assert_eq!(
            area(&[("landuse", "basin"), ("basin", "retention")]),
            Some(Ok((OpenWaterKind::Still, false)))
        );
        assert_eq!(area(&[("landuse", "basin"), ("basin", "detention")]), Some(Err(NoWater::NotAlways)));
        assert_eq!(area(&[("natural", "water"), ("water", "wastewater")]), Some(Err(NoWater::NotForThis)));
        assert_eq!(area(&[("natural", "water"), ("intermittent", "yes")]), Some(Err(NoWater::NotAlways)));
        assert_eq!(
            area(&[("natural", "water"), ("water", "harbour")]),
            Some(Ok((OpenWaterKind::Still, true)))
        );
        assert_eq!(area(&[("natural", "wood")]), None);
        assert_eq!(line(&[("waterway", "river")]), Some(Ok((OpenWaterKind::River, false))));
        assert_eq!(line(&[("waterway", "stream")]), Some(Err(NoWater::Small)));
        assert_eq!(
            line(&[("waterway", "stream"), ("name", "Ash Brook")]),
            Some(Ok((OpenWaterKind::Stream, false)))
        );
        assert_eq!(line(&[("waterway", "stream"), ("width", "2")]), Some(Ok((OpenWaterKind::Stream, false))));
        assert_eq!(
            line(&[("waterway", "stream"), ("name", "X"), ("width", "0.5")]),
            Some(Err(NoWater::Small))
        );
        assert_eq!(line(&[("waterway", "river"), ("tunnel", "culvert")]), Some(Err(NoWater::Covered)));
        assert_eq!(line(&[("natural", "coastline")]), Some(Err(NoWater::Shore)));
        assert_eq!(
            line(&[("natural", "coastline"), ("man_made", "quay")]),
            Some(Ok((OpenWaterKind::Sea, true)))
        );
        assert_eq!(line(&[("waterway", "ditch")]), None);
    }
}
