#!/usr/bin/env python3
"""A zone of all Isle of Man with 50 fill sites beside a general-purpose accessibility library.

    zone_nearest.py TANKERLOOP_BINARY [ROUNDS]

`tankerloop zone` is timed as a whole process, saved network to GeoJSON: both legs, full and empty, turns,
flows. PyPI `pandana` (contraction hierarchies in C++) is timed from its two data frames in memory: it prepares
the island's network and looks up the 8 nearest of the same 50 points for all nodes by one-way time. Its
network is that of the file's roads for motor traffic cut at junctions, one weight an edge, without turns.
Reading the file is not counted for it, and is for us. Turn about, medians; prints ratios of wall and of CPU time, the
second for machines that are busy; asserts nothing.
"""
import random
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import osmium
import pandas
import pandana

from cold_plan import ROOT, island, timed

KMH = {"motorway": 97, "trunk": 88, "primary": 80, "secondary": 72, "tertiary": 64, "unclassified": 56,
       "residential": 40, "living_street": 16, "service": 19, "track": 16}
SITES, NEAREST, SEED = 50, 8, 20261125
# The bound of the zone's own search: 20 min a leg.
LONGEST_S = 1_200.0


def roads(path):
    """Nodes and edges between junctions: id -> (lon, lat), and (from, to, seconds, one-way, km/h)."""
    ways, uses, places = [], {}, {}
    for way in osmium.FileProcessor(path).with_locations():
        if not way.is_way():
            continue
        kind = way.tags.get("highway", "").removesuffix("_link")
        if kind not in KMH:
            continue
        refs = [node.ref for node in way.nodes if node.location.valid()]
        for node in way.nodes:
            if node.location.valid():
                places[node.ref] = (node.location.lon, node.location.lat)
        if len(refs) < 2:
            continue
        for place, ref in enumerate(refs):
            uses[ref] = uses.get(ref, 0) + (2 if place in (0, len(refs) - 1) else 1)
        one_way = way.tags.get("oneway") in ("yes", "true", "1") or way.tags.get("junction") == "roundabout"
        ways.append((refs, KMH[kind], one_way))
    edges = []
    for refs, kmh, one_way in ways:
        start, metres = refs[0], 0.0
        for before, ref in zip(refs, refs[1:]):
            metres += osmium.geom.haversine_distance(
                osmium.osm.Location(*places[before]), osmium.osm.Location(*places[ref]))
            if uses[ref] > 1:
                edges.append((start, ref, metres / (kmh / 3.6), one_way, kmh))
                start, metres = ref, 0.0
    return places, edges


def library(places, edges, sites):
    """Seconds to prepare the network and to look up, and the lookup's size."""
    ids = sorted({end for edge in edges for end in edge[:2]})
    nodes = pandas.DataFrame({"x": [places[i][0] for i in ids], "y": [places[i][1] for i in ids]}, index=ids)
    # Both directions of two-way roads by the library's own switch would hold for all edges or none.
    pairs = [(a, b, s) for a, b, s, *_ in edges]
    pairs += [(b, a, s) for a, b, s, one_way, _ in edges if not one_way]
    table = pandas.DataFrame(pairs, columns=["from", "to", "s"])

    def run():
        begin, cpu = time.perf_counter(), time.process_time()
        network = pandana.Network(nodes.x, nodes.y, table["from"], table["to"], table[["s"]], twoway=False)
        prepared = time.perf_counter()
        x, y = pandas.Series([p[0] for p in sites]), pandas.Series([p[1] for p in sites])
        network.set_pois("fill", LONGEST_S, NEAREST, x, y)
        found = network.nearest_pois(LONGEST_S, "fill", num_pois=NEAREST)
        return prepared - begin, time.perf_counter() - prepared, time.process_time() - cpu, found.shape

    return run


def main():
    binary, rounds = sys.argv[1], int(sys.argv[2]) if len(sys.argv) > 2 else 7
    path = island()
    places, edges = roads(str(path))
    dice = random.Random(SEED)
    # On public road: a lane may end at a gate.
    public = [edge for edge in edges if edge[4] >= 56]
    sites = [places[dice.choice(public)[0]] for _ in range(SITES)]
    run = library(places, edges, sites)
    with tempfile.TemporaryDirectory() as folder:
        folder = Path(folder)
        rows = [f"Site {i},{lon},{lat},hydrant,{dice.randint(250, 1500)},{dice.randint(1, 2)}"
                for i, (lon, lat) in enumerate(sites)]
        (folder / "sites.csv").write_text("name,lon,lat,kind,flow_gpm,berths\n" + "\n".join(rows) + "\n")
        scenario = (ROOT / "tests/isle-of-man/scenario.toml").read_text()
        scenario = scenario.replace('fleet = "fleet.toml"', f'fleet = "{ROOT}/tests/isle-of-man/fleet.toml"')
        saved = folder / "island.roads"
        subprocess.run([binary, "prepare", path, "-o", saved], check=True, capture_output=True)
        zones = {}
        for at_once in (1, 2):
            file = folder / f"zone{at_once}.toml"
            file.write_text(scenario + f"\n[search]\nfill_sites_at_once = {at_once}\n")
            zones[at_once] = [binary, "zone", "-q", file, "--roads", saved, "--sample", "0",
                              "-o", folder / "zone.geojson"]
        ours = {at_once: [] for at_once in zones}
        ours_cpu = {at_once: [] for at_once in zones}
        prepared, looked_up, theirs_cpu, shape, memory = [], [], [], None, 0
        for _ in range(rounds):
            for at_once, command in zones.items():
                wall, cpu, peak, _ = timed(command)
                ours[at_once].append(wall)
                ours_cpu[at_once].append(cpu)
                memory = max(memory, peak)
            prepare_s, look_up_s, cpu_s, shape = run()
            theirs_cpu.append(cpu_s)
            prepared.append(prepare_s)
            looked_up.append(look_up_s)
        size = (folder / "zone.geojson").stat().st_size
    theirs = statistics.median(a + b for a, b in zip(prepared, looked_up))
    print(f"all stretches of Isle of Man with {SITES} fill sites, median of {rounds} turns")
    print(f"  pandana {pandana.__version__}: {len(edges)} edges, {shape[0]} nodes x {shape[1]} nearest: "
          f"{statistics.median(prepared):.3f} s preparing, {statistics.median(looked_up):.3f} s looking up; "
          f"{statistics.median(theirs_cpu):.3f} s of CPU together")
    for at_once, walls in ours.items():
        what = "each site alone" if at_once == 1 else f"up to {at_once} sites together"
        print(f"  tankerloop zone, saved network to GeoJSON ({size / 1e6:.1f} MB), {what}: "
              f"{statistics.median(walls):.3f} s; ratio pandana / zone {theirs / statistics.median(walls):.2f}; "
              f"of CPU {statistics.median(ours_cpu[at_once]):.3f} s, "
              f"ratio {statistics.median(theirs_cpu) / statistics.median(ours_cpu[at_once]):.2f}")
    print(f"  peak memory of the zone {memory / 1e6:.0f} MB")


if __name__ == "__main__":
    main()
