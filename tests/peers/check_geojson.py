#!/usr/bin/env python3
"""Check GeoJSON files against RFC 7946; prints problems, exits 1 on any.

    pip install --only-binary :all: geojson-validator==0.7.0
    check_geojson.py [--ogc] FILE...

Structure, ring closure, winding and coordinate range are judged by the
independent package geojson-validator; the lines marked RFC below are ours, for
what no package checks (bbox order and containment, nested collections, ...).
"""
import json
import math
import sys

import geojson_validator as gv

gv.configure_logging(enabled=False)
FORBIDDEN = {  # RFC 7.1
    "FeatureCollection": ("coordinates", "geometries", "geometry", "properties"),
    "Feature": ("coordinates", "geometries", "features"),
}
GEOMETRY_FORBIDDEN = ("geometry", "properties", "features")


def strict_load(path):
    def no_constant(c):
        raise ValueError(f"{c} is not JSON")

    def no_duplicates(pairs):
        d = dict(pairs)
        if len(d) != len(pairs):
            raise ValueError(f"duplicate member in {sorted(k for k, _ in pairs)}")
        return d

    with open(path, "rb") as f:
        text = f.read().decode("utf-8")  # RFC 8259 8.1: UTF-8, no byte order mark
    return json.loads(text, parse_constant=no_constant, object_pairs_hook=no_duplicates)


def positions(coords):
    if isinstance(coords, list) and coords and not isinstance(coords[0], list):
        yield coords
    elif isinstance(coords, list):
        for c in coords:
            yield from positions(c)


def all_positions(o):
    if not isinstance(o, dict):
        return
    yield from positions(o.get("coordinates") or [])
    for child in [o.get("geometry"), *(o.get("geometries") or []), *(o.get("features") or [])]:
        yield from all_positions(child)


def lines(o):
    t, c = o.get("type"), o.get("coordinates") or []
    return {"LineString": lambda: [c], "MultiLineString": lambda: c, "Polygon": lambda: c,
            "MultiPolygon": lambda: [r for p in c for r in p]}.get(t, list)()


def walk(o, path, parent, out):
    t = o.get("type")
    bad = FORBIDDEN.get(t, GEOMETRY_FORBIDDEN)
    out += [f"{path}: {t} must not have a member {m!r} (RFC 7.1)" for m in bad if m in o]
    if "crs" in o:
        out.append(f"{path}: crs member (RFC 4)")
    if t == "GeometryCollection" and parent == "GeometryCollection":
        out.append(f"{path}: nested GeometryCollection (RFC 3.1.8)")
    for i, line in enumerate(lines(o)):
        if t.endswith("LineString") and len(line) < 2:
            out.append(f"{path}: line {i} has {len(line)} positions (RFC 3.1.4)")
        if t.endswith("Polygon") and (len(line) < 4 or line[0] != line[-1]):
            out.append(f"{path}: ring {i} is not a closed ring of 4+ positions (RFC 3.1.6)")
        if any(abs(b[0] - a[0]) > 180 for a, b in zip(line, line[1:])):
            out.append(f"{path}: line {i} crosses the antimeridian uncut (RFC 3.1.9)")
    if "coordinates" in o and any(not math.isfinite(v) for p in positions(o["coordinates"]) for v in p):
        out.append(f"{path}: coordinate is not finite")
    if "bbox" in o:
        check_bbox(o, path, out)
    if isinstance(o.get("geometry"), dict):
        walk(o["geometry"], path + "/geometry", t, out)
    for key in ("features", "geometries"):
        for i, child in enumerate(o.get(key) or []):
            walk(child, f"{path}/{key}/{i}", t, out)


def check_bbox(o, path, out):
    b, found = o["bbox"], list(all_positions(o))
    if not isinstance(b, list) or len(b) not in (4, 6) or any(type(v) not in (int, float) for v in b):
        out.append(f"{path}/bbox: not 4 or 6 numbers (RFC 5)")
        return
    n = len(b) // 2
    west, south, east, north = b[0], b[1], b[n], b[n + 1]
    if south > north or (n == 3 and b[2] > b[5]):
        out.append(f"{path}/bbox: minimum above maximum (RFC 5)")
    if max(abs(west), abs(east)) > 180 or max(abs(south), abs(north)) > 90:
        out.append(f"{path}/bbox: out of range")
    inside = lambda x: west <= x <= east if west <= east else x >= west or x <= east  # RFC 5.2
    outside = [p for p in found if not (inside(p[0]) and south <= p[1] <= north)]
    if outside:
        out.append(f"{path}/bbox: {len(outside)} positions outside, first {outside[0]} (RFC 5)")


def check(path, ogc=False):
    try:
        data = strict_load(path)
    except (ValueError, OSError) as e:
        return [f"not readable as JSON: {e}"]
    if not isinstance(data, dict):  # the package would take a string for a file name or URL
        return ["root is not an object"]
    out = [f"{m}: at {', '.join(map(str, w['path'][:5]))}" for m, w in gv.validate_structure(data).items()]
    if out:  # the geometry checks want a sound structure
        return out
    soft = ["outside_lat_lon_boundaries"]
    if ogc:  # valid under RFC 7946, refused by many tools
        soft += ["self_intersection", "inner_and_exterior_ring_intersect"]
    r = gv.validate_geometries(data, criteria_problematic=soft)
    for name, where in {**r["invalid"], **r["problematic"]}.items():
        out.append(f"{name}: {len(where)} features, first {where[:5]}")
    features = data["features"] if data["type"] == "FeatureCollection" else [data]
    skipped = [i for i in r["skipped_validation"] if features[i].get("geometry", features[i]) is not None]
    if skipped:
        out.append(f"geometries not checkable: {skipped[:5]}")
    walk(data, "", None, out)
    return out


if __name__ == "__main__":
    args = [a for a in sys.argv[1:] if a != "--ogc"]
    if not args:
        sys.exit("usage: check_geojson.py [--ogc] FILE...")
    problems = 0
    for name in args:
        for p in check(name, "--ogc" in sys.argv):
            print(f"{name}: {p}")
            problems += 1
    sys.exit(1 if problems else 0)
