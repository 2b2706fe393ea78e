#!/usr/bin/env python3
"""Drives of a full tanker beside a general-purpose open router's truck profile (PyPI `pyvalhalla`).

    python3.12 -m venv peer          # pyvalhalla 3.9.1 has wheels for Python 3.12 and later
    peer/bin/pip install --only-binary :all: pyvalhalla==3.9.1 osmium==4.3.2
    peer/bin/python truck_router.py TANKERLOOP_BINARY [EXTRACTS_FOLDER] [--seed N]

200 random pairs each of Isle of Man and Liechtenstein, the same coordinates and the same truck to
both. Both ends are nodes of ways whose `highway` is one of CLASSES, every node with the same chance,
at least 500 m apart; no other tag is looked at, so closed roads are among them.

A router reaches when it finds a way whose first and last point lie within 25 m of the places asked
for: both may move a place to the next road they can use, the other router however far.

The other router's tiles are built from the extract into a temporary folder, without its databases of
countries and time zones and without elevation: it then knows no country's default speeds or access
rules, drives on the left and knows no hours. Its settings are its own defaults. Not run by CI.
"""
import argparse
import collections
import json
import math
import os
import random
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path

import osmium
import valhalla

ROOT = Path(__file__).resolve().parent.parent.parent
EXTRACTS = ("isle-of-man", "liechtenstein")
PAIRS, APART_M, NEAR_M = 200, 500.0, 25.0
CLASSES = {"unclassified", "residential", "living_street", "road", "service", "track"}
for road in ("motorway", "trunk", "primary", "secondary", "tertiary"):
    CLASSES |= {road, f"{road}_link"}
# An invented two-axle tanker with a full tank. Tonnes and metres.
TRUCK = {"weight": 18.0, "axle_load": 11.5, "axle_count": 2, "height": 3.3, "width": 2.5, "length": 9.0}
FLEET = """[[tanker]]
id = "T"
axles = {axle_count}
mass_empty = "9 t"
mass_full = "{weight} t"
rated_mass = "{weight} t"
axle_load_full = "{axle_load} t"
height = "{height} m"
width = "{width} m"
length = "{length} m"
tank_gal = 2300
""".format(**TRUCK)

# Seconds, metres, metres from each place asked for to the way's end, metres on each OSM way, why none.
Answer = collections.namedtuple("Answer", "time_s length_m off_m ways why", defaults=(None, None, (), {}, ""))


def extract(name, folder):
    """Path of an extract: in a folder, else in the registry package that carries it (the island)."""
    folders = [folder, os.environ.get("TANKERLOOP_EXTRACTS"), ROOT.parent / "shared/extracts"]
    for place in filter(None, folders):
        path = Path(place) / f"{name}.osm.pbf"
        if path.exists():
            return path
    out = subprocess.run(
        ["cargo", "metadata", "--format-version", "1", "--locked", "--manifest-path",
         ROOT / "tests/extracts/Cargo.toml"], check=True, capture_output=True, text=True)
    for package in json.loads(out.stdout)["packages"]:
        if package["name"] == "osmgraphing" and name == "isle-of-man":
            return Path(package["manifest_path"]).parent / "resources/isle_of_man_2020-03-14/graph.osm.pbf"
    return None


def metres(a, b):
    """Metres between two (lon, lat), on a plane at their middle latitude."""
    east = math.radians(b[0] - a[0]) * math.cos(math.radians((a[1] + b[1]) / 2))
    return 6_371_008.8 * math.hypot(east, math.radians(b[1] - a[1]))


def roads(pbf):
    """Distinct nodes of ways of CLASSES, as (lon, lat in degrees, class of the last such way), in
    order of id; and the ids of the tracks."""
    nodes, tracks = {}, set()
    for way in osmium.FileProcessor(str(pbf), osmium.osm.WAY | osmium.osm.NODE).with_locations():
        highway = way.tags.get("highway") if way.is_way() else None
        if highway == "track":
            tracks.add(way.id)
        if highway in CLASSES:
            nodes.update((n.ref, (n.lon, n.lat, highway)) for n in way.nodes if n.location.valid())
    return [nodes[ref] for ref in sorted(nodes)], tracks


def draw_pairs(nodes, seed):
    """PAIRS pairs of nodes at least APART_M metres apart."""
    dice, pairs = random.Random(seed), []
    while len(pairs) < PAIRS:
        a, b = dice.sample(nodes, 2)
        if metres(a, b) >= APART_M:
            pairs.append((a, b))
    return pairs


def ours(binary, pbf, fleet, a, b):
    """tankerloop's Answer (seconds, metres), from `drive --explain`."""
    done = subprocess.run(
        [binary, "drive", "--roads", pbf, "--fleet", fleet, "--vehicle", "T", "--load", "full",
         f"--from={a[0]:.7f},{a[1]:.7f}", f"--to={b[0]:.7f},{b[1]:.7f}", "--explain", "--format", "json"],
        capture_output=True, text=True)
    if done.returncode not in (0, 1):
        return Answer(why=" ".join(done.stderr.split()))
    told = json.loads(done.stdout)
    if not told["reachable"]:
        return Answer(why="; ".join(line.strip() for line in told["reason"].splitlines()))
    ways = collections.Counter()
    for stretch in told["stretches"]:
        ways[stretch["way"]] += stretch["length_m"]
    line = told["geometry"]["coordinates"]
    return Answer(told["travel_s"], told["distance_m"], (metres(a, line[0]), metres(b, line[-1])), ways)


def build(pbf, folder):
    """Builds the other router's tiles from the extract and opens it."""
    tiles, file = Path(folder) / "tiles", Path(folder) / "config.json"
    tiles.mkdir()
    config = valhalla.get_config(tile_extract="", tile_dir=tiles)
    config["mjolnir"].update(concurrency=1, admin="", timezone="")
    file.write_text(json.dumps(config))
    builder = valhalla.PYVALHALLA_DIR / "bin/valhalla_build_tiles"
    subprocess.run([builder, "-c", file, pbf], check=True, stdout=subprocess.DEVNULL)
    return valhalla.Actor(config)


def decoded(shape):
    """(lon, lat) in degrees of an encoded polyline with six decimals."""
    numbers, value, shift = [], 0, 0
    for letter in shape:
        bits = ord(letter) - 63
        value |= (bits & 31) << shift
        shift += 5
        if bits < 32:
            before = numbers[-2] if len(numbers) > 1 else 0
            numbers.append(before + (~(value >> 1) if value & 1 else value >> 1))
            value = shift = 0
    return [(lon / 1e6, lat / 1e6) for lat, lon in zip(numbers[::2], numbers[1::2])]


def theirs(actor, a, b):
    """The other router's Answer (seconds, metres); its ways from walking its line over its edges."""
    profile = {"costing": "truck", "costing_options": {"truck": TRUCK}}
    locations = [{"lon": round(p[0], 7), "lat": round(p[1], 7)} for p in (a, b)]
    try:
        trip = actor.route({**profile, "locations": locations, "directions_type": "none"})["trip"]
    except valhalla.ValhallaError as error:
        return Answer(why=str(error))
    shape = trip["legs"][0]["shape"]
    line, ways = decoded(shape), collections.Counter()
    try:
        walk = actor.trace_attributes({**profile, "encoded_polyline": shape, "shape_match": "edge_walk"})
        for edge in walk["edges"]:
            ways[edge["way_id"]] += edge["length"] * 1000
    except valhalla.ValhallaError:
        pass  # then the way counts as not shared
    off = (metres(a, line[0]), metres(b, line[-1]))
    return Answer(trip["summary"]["time"], trip["summary"]["length"] * 1000, off, ways)


def reaches(answer):
    """A way was found and neither end was moved by more than NEAR_M metres."""
    return answer.time_s is not None and max(answer.off_m) <= NEAR_M


def shared(mine, other):
    """Share (0 to 1) of the longer drive's metres that lie on ways of both, way by way."""
    same = sum(min(mine.ways[way], other.ways[way]) for way in mine.ways)
    return same / max(sum(mine.ways.values()), sum(other.ways.values()), 1.0)


def spread(name, ratios):
    """One line: least, 5 %, quartiles, 95 % and greatest of some ratios."""
    cut = statistics.quantiles(ratios, n=20, method="inclusive") if len(ratios) > 1 else ratios * 19
    row = [min(ratios), cut[0], cut[4], cut[9], cut[14], cut[18], max(ratios)] if ratios else []
    return f"  {name:<28} {len(ratios):>4}  " + "  ".join(f"{value:6.2f}" for value in row)


def told(answer):
    """An answer in words."""
    if answer.time_s is None:
        return f"no way: {answer.why}"
    moved = "" if reaches(answer) else ", ends {:.0f} m and {:.0f} m off".format(*answer.off_m)
    return f"{answer.time_s:.0f} s, {answer.length_m / 1000:.2f} km{moved}"


def report(name, seed, pairs, answers, tracks):
    """Prints the tables and the worst disagreements of one extract."""
    print(f"\n{name}: {len(pairs)} pairs, seed {seed}")
    reach = [(reaches(mine), reaches(other)) for mine, other in answers]
    for title, key in (("both reach", (True, True)), ("only ours", (True, False)),
                       ("only theirs", (False, True)), ("neither", (False, False))):
        print(f"  {title:<12} {reach.count(key):>4}")
    for title, column in (("ours", 0), ("theirs", 1)):
        none = sum(answer[column].time_s is None for answer in answers)
        moved = len(pairs) - none - sum(key[column] for key in reach)
        print(f"  not reached by {title}: no way {none}, end moved {moved}")
    both = [i for i, key in enumerate(reach) if key == (True, True)]
    time = {i: answers[i][0].time_s / answers[i][1].time_s for i in both}
    same = [i for i in both if shared(*answers[i]) >= 0.95]
    firm = [i for i in same if not tracks & {*answers[i][0].ways, *answers[i][1].ways}]
    heads = ("least", "5 %", "25 %", "median", "75 %", "95 %", "most")
    print(f"  {'ours / theirs':<28} {'n':>4}  " + "  ".join(f"{head:>6}" for head in heads))
    print(spread("time", list(time.values())))
    print(spread("time, same way (95 % shared)", [time[i] for i in same]))
    print(spread("time, same way, no track", [time[i] for i in firm]))
    print(spread("distance", [answers[i][0].length_m / answers[i][1].length_m for i in both]))
    worst = sorted(both, key=time.get)
    one = [i for i, key in enumerate(reach) if key[0] != key[1]]
    for title, chosen in (("only one reaches", one), ("ours the faster, most first", worst[:10]),
                          ("ours the slower, most first", worst[:-11:-1])):
        print(f"\n  {title}:")
        for i in chosen:
            (a, b), (mine, other) = pairs[i], answers[i]
            ratio = f"\n    ratio {time[i]:.2f}, {shared(mine, other):.0%} shared" if i in time else ""
            print(f"  pair {i}: {a[2]} {a[0]:.7f},{a[1]:.7f} to {b[2]} {b[0]:.7f},{b[1]:.7f}\n"
                  f"    ours   {told(mine)}\n    theirs {told(other)}{ratio}")


def main():
    """Runs both routers over the pairs of each extract."""
    wanted = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    wanted.add_argument("binary")
    wanted.add_argument("extracts", nargs="?")
    wanted.add_argument("--seed", type=int, default=1142)
    args = wanted.parse_args()
    print(f"pyvalhalla {valhalla.__version__}, truck {TRUCK}")
    for name in EXTRACTS:
        pbf = extract(name, args.extracts)
        if pbf is None:
            sys.exit(f"{name}: the extract was not found")
        nodes, tracks = roads(pbf)
        pairs = draw_pairs(nodes, args.seed)
        with tempfile.TemporaryDirectory() as folder:
            fleet = Path(folder) / "fleet.toml"
            fleet.write_text(FLEET)
            actor = build(pbf, folder)
            answers = [(ours(args.binary, pbf, fleet, *pair), theirs(actor, *pair)) for pair in pairs]
        report(name, args.seed, pairs, answers, tracks)


main()
