#!/usr/bin/env python3
"""Load on `tankerloop serve`: 8 clients at once, each its own incidents, on the Isle of Man from a saved network.

Prints the 50th and the 99th percentile of the time to a plan without and with the simulation and the server's
processor time a plan, which other work on the machine disturbs least, and checks that each answer is the one to
its own request: the same bytes as when another server is asked it alone. Exit code 1 where one is not; times are
printed, not judged. Only Python's standard library.

Eight incidents come round, as where a command post tries needs and tankers; the server keeps what it searched and
simulated, and has been asked each request before. --fresh asks nothing twice: the roads are ready and nothing
is simulated.

    python3 tests/peers/serve_load.py target/release/tankerloop [EXTRACT.osm.pbf] [--think S] [--rounds N] [--fresh]
"""
import argparse
import hashlib
import http.client
import json
import os
import random
import re
import subprocess
import tempfile
import threading
import time

HERE = os.path.dirname(os.path.abspath(__file__))
SCENARIO = os.path.join(HERE, "..", "isle-of-man", "scenario.toml")
CLIENTS = 8
# On and beside roads in the four quarters of the island.
INCIDENTS = [
    [-4.5006, 54.1500], [-4.5400, 54.1700], [-4.6300, 54.1150], [-4.4000, 54.3000],
    [-4.6950, 54.2150], [-4.5700, 54.2600], [-4.7000, 54.0900], [-4.4600, 54.2200],
]


def ask(connection, body):
    data = json.dumps(body)
    connection.request("POST", "/api/plan", data, {"Content-Type": "application/json"})
    response = connection.getresponse()
    return response.status, response.read()


def client(number, port, bodies, think, out):
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=120)
    luck = random.Random(number)
    for body in bodies:
        if think:
            time.sleep(luck.expovariate(1 / think))
        begin = time.perf_counter()
        status, answer = ask(connection, body)
        took = time.perf_counter() - begin
        out.append((json.dumps(body), status, hashlib.sha256(answer).hexdigest(), took))
    connection.close()


def percentile(times, share):
    times = sorted(times)
    return times[min(len(times) - 1, int(share * len(times)))]


def cpu_s(pid):
    """Processor time of a process so far; none where the system does not tell in /proc."""
    try:
        with open(f"/proc/{pid}/stat") as stat:
            fields = stat.read().rsplit(")", 1)[1].split()
        return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")
    except OSError:
        return float("nan")


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("tankerloop")
    parser.add_argument("extract", nargs="?", default="/work/shared/extracts/isle-of-man.osm.pbf")
    parser.add_argument("--think", type=float, default=0.0,
                        help="mean seconds between an answer and a client's next request; 0 asks again at once")
    parser.add_argument("--rounds", type=int, default=25)
    parser.add_argument("--workers", help="as serve takes it")
    parser.add_argument("--fresh", action="store_true",
                        help="every request with a seed of its own, so that nothing simulated before is asked again")
    args = parser.parse_args()
    folder = tempfile.mkdtemp()
    roads = os.path.join(folder, "island.roads")
    subprocess.run([args.tankerloop, "prepare", args.extract, "-o", roads], check=True, stderr=subprocess.DEVNULL)

    def serve():
        return subprocess.Popen([args.tankerloop, "serve", SCENARIO, "--roads", roads, "--port", "0"]
                                + (["--workers", args.workers] if args.workers else []),
                                stderr=subprocess.PIPE, text=True)

    def port_of(server):
        return int(re.search(r"http://127\.0\.0\.1:(\d+)/", server.stderr.readline()).group(1))

    # Another server answers each request alone, as what it is to be compared with.
    server, other = serve(), serve()
    try:
        port, apart = port_of(server), port_of(other)
        wrong = 0
        for simulate in (False, True):
            seed = (lambda c, r: 1000 * c + r) if args.fresh else (lambda c, r: r % 3 + 1)
            requests = [[{"incident": INCIDENTS[(c + r) % 8], "need_gpm": 300 + 50 * c, "seed": seed(c, r),
                          "simulate": simulate} for r in range(args.rounds)] for c in range(CLIENTS)]
            # So that the roads are ready, and without --fresh what is asked again is known.
            connection = http.client.HTTPConnection("127.0.0.1", port, timeout=120)
            firsts = [requests[c][0] for c in range(CLIENTS)] if args.fresh else [b for bodies in requests for b in bodies]
            for body in firsts:
                ask(connection, {**body, "simulate": False} if args.fresh else body)
            results = [[] for _ in requests]
            threads = [threading.Thread(target=client, args=(i, port, bodies, args.think, results[i]))
                       for i, bodies in enumerate(requests)]
            begin, cpu = time.perf_counter(), cpu_s(server.pid)
            for thread in threads:
                thread.start()
            for thread in threads:
                thread.join()
            took, cpu = time.perf_counter() - begin, cpu_s(server.pid) - cpu
            flat = [row for result in results for row in result]
            alone, connection = {}, http.client.HTTPConnection("127.0.0.1", apart, timeout=120)
            times = []
            for key in {key for key, *_ in flat}:
                begin = time.perf_counter()
                status, answer = ask(connection, json.loads(key))
                times.append(time.perf_counter() - begin)
                alone[key] = (status, hashlib.sha256(answer).hexdigest())
            lost = CLIENTS * args.rounds - len(flat)
            mixed = sum(1 for key, status, digest, _ in flat if alone[key] != (status, digest))
            failed = sum(1 for _, status, _, _ in flat if status != 200)
            wrong += lost + mixed + failed
            name = "with simulation" if simulate else "without simulation"
            told = [t * 1e3 for *_, t in flat]
            print(f"{name}: {len(flat)} plans by {CLIENTS} clients, {len(flat) / took:.1f} a second: "
                  f"p50 {percentile(told, 0.5):.0f} ms, p99 {percentile(told, 0.99):.0f} ms; "
                  f"processor time {cpu / len(flat) * 1e3:.1f} ms a plan; "
                  f"one at a time p50 {percentile(times, 0.5) * 1e3:.0f} ms, p99 {percentile(times, 0.99) * 1e3:.0f} ms; "
                  f"lost {lost}, mixed up {mixed}, refused {failed}", flush=True)
    finally:
        for process in (server, other):
            process.terminate()
            process.wait()
    raise SystemExit(1 if wrong else 0)


main()
