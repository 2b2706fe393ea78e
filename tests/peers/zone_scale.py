#!/usr/bin/env python3
"""Zones of synthetic networks that grow: seconds and peak memory an arc.

    zone_scale.py [--leg-min N] TANKERLOOP_BINARY SYNTHETIC_BINARY [FOLDER] [ARCS ...]

SYNTHETIC_BINARY is `cargo build --release --example synthetic`. For each size (100,000, 1,000,000 and
4,000,000 arcs unless given) it makes the network and one fill site a thousand arcs, saves the network, and runs
`tankerloop zone` on all of it, saved network to GeoJSON. Prints a row each; memory an arc between two sizes is
the growth, without what every run needs. What a stretch costs grows with the sites within a leg of it, until the
network is larger than what a leg reaches: legs of N minutes (20 unless given) tell that from the growth with the
arcs. Asserts nothing. The files go with the folder's use: 4,000,000 arcs
need about 3 GB there.
"""
import argparse
import re
import subprocess
import sys
import tempfile
from pathlib import Path

from cold_plan import timed

FLEET = """siphons = 2
""" + "".join(f"""
[[tanker]]
id = "T{i}"
station = [-37.97, 38.03]
mass_empty = "9.0 t"
mass_full = "19.0 t"
axle_load_full = "9.0 t"
height = "3.1 m"
width = "2.5 m"
length = "8.8 m"
tank_gal = 2500
""" for i in range(1, 5)) + """
[[pumper]]
id = "P1"
rated_gpm = 1500
suctions = 2
role = "draft"
hose = [{ diameter_in = 5, length_ft = 1000 }]

[[portable_tank]]
volume_gal = 3000

[[portable_tank]]
volume_gal = 3000
"""
SCENARIO = """name = "Synthetic"
roads = "roads.osm.pbf"
sites = ["sites.csv"]
fleet = "fleet.toml"

[incident]
name = "anywhere"
at = [-37.97, 38.03]
need_gpm = 500

[search]
fill_sites_at_once = 1
"""


def drop_lost_sites(command, sites):
    """A few hydrants of a large network lie on a piece of road that a creek cuts off; a zone refuses such a row."""
    while True:
        told = subprocess.run(command, capture_output=True, text=True).stderr
        lost = re.search(r"\[off-the-roads\].*?, row (\d+),", told)
        if not lost:
            return
        lines = sites.read_text().splitlines(keepends=True)
        print(f"left out: {lines.pop(int(lost[1]) - 1).strip()}", flush=True)
        sites.write_text("".join(lines))


def row(binary, maker, arcs, folder, leg_min):
    """Arcs, sites, stretches, seconds of CPU and wall, peak bytes."""
    roads, sites = folder / "roads.osm.pbf", folder / "sites.csv"
    made = timed([maker, "--arcs", str(arcs), roads, sites])[3].decode().split()
    (folder / "fleet.toml").write_text(FLEET)
    (folder / "scenario.toml").write_text(f"{SCENARIO}longest_leg_min = {leg_min}\n")
    saved, out = folder / "roads.saved", folder / "zone.geojson"
    timed([binary, "prepare", roads, "-o", saved])
    drop_lost_sites([binary, "zone", "-q", folder / "scenario.toml", "--roads", saved, "--block", "1/64",
                     "--parts", folder / "parts"], sites)
    wall, cpu, peak, _ = timed([binary, "zone", "-q", folder / "scenario.toml", "--roads", saved,
                                "--sample", "0", "-o", out])
    with out.open() as lines:
        stretches = sum(line.startswith('{"type":"Feature","geometry":{"type":"LineString"') for line in lines)
    size = out.stat().st_size
    for file in (roads, saved, out):
        file.unlink()
    return int(made[0]), len(sites.read_text().splitlines()) - 1, stretches, cpu, wall, peak, size


def main():
    args = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    args.add_argument("--leg-min", type=float, default=20)
    args.add_argument("binary")
    args.add_argument("maker")
    args.add_argument("folder", nargs="?")
    args.add_argument("arcs", nargs="*", type=int)
    args = args.parse_args()
    sizes = args.arcs or [100_000, 1_000_000, 4_000_000]
    print(f"{'arcs':>10} {'sites':>6} {'stretches':>10} {'CPU s':>8} {'wall s':>8} {'us/arc':>7} "
          f"{'peak MB':>8} {'bytes/arc':>10} {'growth':>7} {'output MB':>10}")
    before = None
    with tempfile.TemporaryDirectory(dir=args.folder) as folder:
        for size in sizes:
            arcs, sites, stretches, cpu, wall, peak, out = row(args.binary, args.maker, size, Path(folder), args.leg_min)
            growth = f"{(peak - before[1]) / (arcs - before[0]):7.0f}" if before else "      -"
            print(f"{arcs:10} {sites:6} {stretches:10} {cpu:8.2f} {wall:8.2f} {cpu / arcs * 1e6:7.1f} "
                  f"{peak / 1e6:8.0f} {peak / arcs:10.0f} {growth} {out / 1e6:10.0f}", flush=True)
            before = (arcs, peak)


if __name__ == "__main__":
    main()
