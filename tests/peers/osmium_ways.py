#!/usr/bin/env python3
"""Read every way of an .osm.pbf with its node locations; print counts and time as JSON.

    pip install --only-binary :all: osmium==4.3.2
    osmium_ways.py FILE
"""
import json
import sys
import time

import osmium


class Ways(osmium.SimpleHandler):
    def __init__(self):
        super().__init__()
        self.ways = 0
        self.located = 0

    def way(self, way):
        self.ways += 1
        located = 0
        for node in way.nodes:
            location = node.location
            try:
                location.lon, location.lat
            except osmium.InvalidLocationError:
                continue
            located += 1
        self.located += located


if len(sys.argv) != 2:
    sys.exit("usage: osmium_ways.py FILE")
start = time.perf_counter()
ways = Ways()
ways.apply_file(sys.argv[1], locations=True)
seconds = time.perf_counter() - start
print(json.dumps({"ways": ways.ways, "nodes_with_location": ways.located, "seconds_inside": round(seconds, 4)}))
