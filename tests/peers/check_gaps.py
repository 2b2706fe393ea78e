#!/usr/bin/env python3
"""Buildings and outlines of the gaps of a zone beside a general-purpose reader and geometry library.

    check_gaps.py ZONE.geojson EXTRACT.osm.pbf

PyPI `osmium` (libosmium) reads the ways and multipolygons tagged as buildings, PyPI `shapely` (GEOS) finds the
stretch that each lies nearest to. Compared are the buildings in all, of each stretch and of each gap. Metres are
those of a plane through the middle of the zone, so a building that lies as near to two stretches may go to the
other one: told, and no more than one in a hundred may. Outlines of gaps are valid, wound as RFC 7946 wants it, and
hold their stretches. Where new fill sites are proposed at open water, the element that each names is within reach
of its place and tagged as water.
"""
import json
import math
import sys

import osmium
import shapely

REACH_M = 150.0
# 20 ft of suction hose and 10 ft from the middle of the road, and a tenth for another plane.
SUCTION_M = 30 * 0.3048 + 0.1
METRES_PER_DEGREE = math.radians(1) * 6_371_008.8


def buildings(path):
    """A place each: the middle of a way's bounds, the first node of a multipolygon's first outline."""
    outlines, outer = [], set()
    for relation in osmium.FileProcessor(path, osmium.osm.RELATION):
        if relation.tags.get("type") == "multipolygon" and relation.tags.get("building", "no") != "no":
            ways = [m.ref for m in relation.members if m.type == "w" and m.role != "inner"]
            outlines.append(ways)
            outer.update(ways)
    found, first_of = [], {}
    for way in osmium.FileProcessor(path).with_locations():
        if not way.is_way():
            continue
        places = [(n.location.lon, n.location.lat) for n in way.nodes if n.location.valid()]
        if way.id in outer and places:
            first_of[way.id] = places[0]
        elif way.tags.get("building", "no") != "no" and places:
            lons, lats = zip(*places)
            found.append(((min(lons) + max(lons)) / 2, (min(lats) + max(lats)) / 2))
    for ways in outlines:
        corner = next((first_of[way] for way in ways if way in first_of), None)
        found += [corner] if corner else []
    return found


def proposals(zone, path, flat):
    """Metres from each proposal at open water to the water that it names."""
    asked = [f for f in zone["tankerloop"]["findings"] if f["code"] == "ask-before-relying"]
    ways = {f["where"]["osm"]["way"] for f in asked if "way" in f["where"]["osm"]}
    areas = {f["where"]["osm"]["relation"] for f in asked if "relation" in f["where"]["osm"]}
    members = {}
    for relation in osmium.FileProcessor(path, osmium.osm.RELATION):
        if relation.id in areas:
            members[relation.id] = [m.ref for m in relation.members if m.type == "w"]
            assert relation.tags.get("natural") == "water" or relation.tags.get("landuse") in ("reservoir", "basin")
    needed = ways.union(*members.values())
    lines, width = {}, {}
    for way in osmium.FileProcessor(path).with_locations():
        if way.is_way() and way.id in needed:
            lines[way.id] = [flat((n.location.lon, n.location.lat)) for n in way.nodes if n.location.valid()]
            width[way.id] = float(way.tags.get("width", "0").removesuffix("m")) if "waterway" in way.tags else 0
            water = way.tags.get("natural") in ("water", "coastline") or "waterway" in way.tags
            assert water or way.tags.get("landuse") in ("reservoir", "basin") or way.id not in ways, way.tags
    found = []
    for f in asked:
        osm = f["where"]["osm"]
        own = [osm["way"]] if "way" in osm else members.get(osm.get("relation"), [])
        shape = shapely.MultiLineString([lines[w] for w in own if len(lines.get(w, [])) > 1])
        if not shape.is_empty:
            bank = width[osm["way"]] / 2 if "way" in osm else 0
            found.append((f["where"]["name"], shape.distance(shapely.Point(flat(f["where"]["at"]))) - bank))
    return found


def main():
    zone, extract = sys.argv[1:]
    zone = json.load(open(zone))
    of = lambda layer: [f for f in zone["features"] if f["properties"]["layer"] == layer]
    stretches, gaps = of("stretch"), of("gap")
    west, south, east, north = zone["bbox"]
    squeeze = math.cos(math.radians((south + north) / 2))
    flat = lambda p: (p[0] * METRES_PER_DEGREE * squeeze, p[1] * METRES_PER_DEGREE)
    tree = shapely.STRtree([shapely.LineString([flat(p) for p in f["geometry"]["coordinates"]]) for f in stretches])
    points = shapely.points([flat(p) for p in buildings(extract)])
    pairs = tree.query_nearest(points, max_distance=REACH_M, all_matches=False)
    counts = [0] * len(stretches)
    for stretch in pairs[1]:
        counts[stretch] += 1
    ours = [f["properties"]["buildings"] for f in stretches]
    moved = sum(abs(a - b) for a, b in zip(ours, counts)) / 2
    print(f"{len(points)} buildings read, {sum(counts)} within {REACH_M:.0f} m of a stretch; ours {sum(ours)}; "
          f"{moved:.0f} at another stretch")
    # Stretches of a gap are those below the need: the file does not say which gap, the sum is compared.
    short = [i for i, f in enumerate(stretches) if not f["properties"]["ceiling_meets_need"]]
    in_gaps, told = sum(counts[i] for i in short), sum(g["properties"]["buildings"] for g in gaps)
    print(f"{len(gaps)} gaps: {told} buildings, {in_gaps} by the library")
    assert told == sum(ours[i] for i in short)
    assert abs(sum(ours) - sum(counts)) <= len(points) / 1000 and moved <= len(points) / 100
    assert abs(told - in_gaps) <= max(2, len(points) / 500)
    areas = [shapely.geometry.shape(g["geometry"]) for g in gaps]
    assert all(area.is_valid for area in areas), "a gap's outline is not valid"
    lines = [shapely.LineString(f["geometry"]["coordinates"]) for f in stretches]
    outside = [i for i in short if not any(a.covers(lines[i]) for a in areas)] if len(short) < 20_000 else []
    print(f"{len(areas)} outlines valid by GEOS; {len(outside)} of {len(short)} stretches below the need lie in none")
    assert not outside
    at_water = proposals(zone, extract, flat)
    for name, metres in at_water:
        print(f"proposed: {name}, {metres:.1f} m from it")
        assert metres <= SUCTION_M, name
    assert all(shapely.is_ccw(p.exterior) and not any(shapely.is_ccw(h) for h in p.interiors)
               for area in areas for p in area.geoms), "a ring runs the wrong way round (RFC 7946, 3.1.6)"


if __name__ == "__main__":
    main()
