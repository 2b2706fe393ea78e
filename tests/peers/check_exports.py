#!/usr/bin/env python3
"""Compare exports with the GeoJSON they were made from, read by independent packages; exits 1 on any
difference.

    pip install --only-binary :all: -r tests/peers/requirements.txt
    check_exports.py ANSWER.geojson ANSWER.gpkg ANSWER.gpx ANSWER.kml ANSWER.csv

GeoPackage by pyogrio (GDAL), GPX by gpxpy, KML by fastkml and by pyogrio, CSV by the standard library with
shapely: counts per layer, and every coordinate.
"""
import csv
import json
import sys
from collections import defaultdict
from xml.etree import ElementTree

import gpxpy
import pyogrio.raw
import shapely
from fastkml import KML, Folder, Placemark
from fastkml.utils import find_all

problems = []


def differs(name, got, wanted):
    if got != wanted:
        problems.append(f"{name}: {str(got)[:200]}, not {str(wanted)[:200]}")


def numbers(geometry):
    """All coordinates in order, longitude first; multi-part shapes part by part."""
    return [tuple(at) for at in shapely.get_coordinates(geometry).tolist()]


def compare(name, got, wanted):
    """got and wanted: layer -> list of shapes."""
    differs(f"{name}: layers", sorted(got), sorted(wanted))
    for layer in set(got) & set(wanted):
        differs(f"{name}: features of {layer}", len(got[layer]), len(wanted[layer]))
        differs(f"{name}: kinds of shape of {layer}", {g.geom_type for g in got[layer]}, {g.geom_type for g in wanted[layer]})
        for i, (a, b) in enumerate(zip(got[layer], wanted[layer])):
            differs(f"{name}: coordinates of {layer} {i + 1}", numbers(a), numbers(b))


def by_gdal(path, without=()):
    found = {}
    for layer, kind in pyogrio.list_layers(path):
        if layer in without:
            continue
        _, _, shapes, _ = pyogrio.raw.read(path, layer=layer)
        found[layer] = [shapely.force_2d(shapely.from_wkb(wkb)) for wkb in shapes]
    return found


def gpkg(path, wanted, features):
    compare("gpkg", by_gdal(path, without=("about", "layer_styles")), wanted)
    # A style a layer, by its name, and well-formed.
    _, _, _, columns = pyogrio.raw.read(path, layer="layer_styles", columns=["f_table_name", "styleSLD"])
    differs("gpkg: styles", sorted(columns[0]), sorted(wanted))
    for layer, style in zip(*columns):
        root = ElementTree.fromstring(style.encode())
        differs(f"gpkg: style of {layer}", root.findtext(".//{*}NamedLayer/{*}Name"), layer)
    for layer in wanted:
        about, _, _, columns = pyogrio.raw.read(path, layer=layer)
        for key, column in zip(about["fields"], columns):
            for i, (got, feature) in enumerate(zip(column, features[layer])):
                value = feature["properties"].get(key)
                if isinstance(value, str):
                    differs(f"gpkg: {key} of {layer} {i + 1}", got, value)
                elif isinstance(value, (int, float)):
                    differs(f"gpkg: {key} of {layer} {i + 1}", float(got), float(value))


def gpx(path, wanted):
    with open(path, encoding="utf-8") as file:
        data = gpxpy.parse(file)
    differs("gpx: version", data.version, "1.1")
    routes = [[(p.longitude, p.latitude) for p in route.points] for route in data.routes]
    differs("gpx: legs", routes, [numbers(leg) for leg in wanted.get("leg", [])])
    differs("gpx: names told apart", len({route.name for route in data.routes}), len(routes))
    points = defaultdict(list)
    for point in data.waypoints:
        points[point.type].append((point.longitude, point.latitude))
    places = {layer: [numbers(s)[0] for s in shapes] for layer, shapes in wanted.items() if shapes[0].geom_type == "Point"}
    differs("gpx: places", dict(points), places)


def kml(path, wanted):
    compare("kml by GDAL", by_gdal(path), wanted)
    with open(path, "rb") as file:
        data = KML.parse(file, strict=True)
    found = {}
    for folder in find_all(data, of_type=Folder):
        marks = list(find_all(folder, of_type=Placemark))
        found[folder.name] = [shapely.from_wkt(mark.geometry.wkt) for mark in marks]
    # fastkml hands out a MultiLineString or MultiPolygon for each MultiGeometry of ours.
    compare("kml by fastkml", found, wanted)


def table(path, wanted):
    csv.field_size_limit(10**9)
    found = defaultdict(list)
    with open(path, newline="", encoding="utf-8") as file:
        for row in csv.DictReader(file):
            found[row["layer"]].append(shapely.from_wkt(row["geometry_wkt"]))
            risky = [key for key, cell in row.items() if cell[:1] in "=+@\t\r" and cell]
            differs("csv: cells that begin a formula", risky, [])
    compare("csv", found, wanted)


def main(source, *paths):
    with open(source, encoding="utf-8") as file:
        answer = json.load(file)
    features, wanted = defaultdict(list), defaultdict(list)
    for feature in answer["features"]:
        layer = feature["properties"]["layer"]
        features[layer].append(feature)
        wanted[layer].append(shapely.from_geojson(json.dumps(feature["geometry"])))
    for path in paths:
        ending = path.rsplit(".", 1)[-1]
        if ending == "gpkg":
            gpkg(path, wanted, features)
        else:
            {"gpx": gpx, "kml": kml, "csv": table}[ending](path, wanted)
    for problem in problems[:20]:
        print(problem)
    counts = ", ".join(f"{len(shapes)} {layer}" for layer, shapes in wanted.items())
    print(f"{len(paths)} exports of {source}: {len(problems)} differences ({counts})")
    return 1 if problems else 0


if __name__ == "__main__":
    if len(sys.argv) < 3:
        sys.exit("usage: check_exports.py ANSWER.geojson EXPORT...")
    sys.exit(main(*sys.argv[1:]))
