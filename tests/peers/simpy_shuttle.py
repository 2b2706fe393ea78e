#!/usr/bin/env python3
"""Ten shuttles simulated by tankerloop and by a general-purpose simulator, within 2 % of each other.

    simpy_shuttle.py SHUTTLE_RUNS_BINARY

The peer is PyPI `simpy` (processes, resources, containers): tankers are processes, berths are resources,
the portable tanks are a container into which water is put 25 gallons at a time, sources are shared out
every five seconds. It is written from the description of a shuttle, and shares no code and no random
numbers with tankerloop, whose side is `cargo build --release --example shuttle_runs`. Compared are
gallons delivered and gallons drawn over four hours. Exits with 1 if a configuration is off.
"""
import json
import math
import random
import subprocess
import sys

import simpy

REPLICATIONS, OURS = 60, 400
UNTIL_S = 4 * 3600
PUT_GAL, SHARE_S, DRAW_S = 25.0, 5.0, 5.0
WITHIN = 0.02


def factor(vary, dice):
    """A factor of mean one."""
    if vary == "fixed":
        return 1.0
    if vary == "exponential":
        return dice.expovariate(1.0)
    variance = math.log(1 + vary["log-normal"]["cv"] ** 2)
    return math.exp(dice.gauss(-variance / 2, math.sqrt(variance)))


class Lane:
    """One direction at a time, in order of arrival; those next to each other in the line go together."""

    def __init__(self, env):
        self.env, self.way, self.inside, self.line = env, None, 0, []

    def enter(self, way):
        event = self.env.event()
        self.line.append((way, event))
        self.admit()
        return event

    def leave(self):
        self.inside -= 1
        self.admit()

    def admit(self):
        while self.line and (self.inside == 0 or self.line[0][0] == self.way):
            self.way, event = self.line.pop(0)
            self.inside += 1
            event.succeed()


class Source:
    def __init__(self, env, fill):
        self.berths = simpy.Resource(env, fill["berths"])
        self.gal_per_s, self.left = fill["flow"] / 60, fill["volume"]
        self.wanting = {}

    def share(self, who):
        """Equal shares, none above its own rate, what one cannot take going to the others."""
        flow, rates = self.gal_per_s, sorted(self.wanting.items(), key=lambda item: item[1])
        for i, (tanker, rate) in enumerate(rates):
            got = min(rate, flow / (len(rates) - i))
            if tanker == who:
                return got
            flow -= got


class World:
    def __init__(self, job, dice):
        self.env, self.shuttle, self.dice = simpy.Environment(), job["shuttle"], dice
        self.sources = [Source(self.env, fill) for fill in self.shuttle["fills"]]
        self.dump = simpy.Resource(self.env, self.shuttle["dump"]["berths"])
        self.tank = simpy.Container(self.env, self.shuttle["dump"]["tank_room"])
        self.lanes = [Lane(self.env) for _ in self.shuttle["lanes"]]
        self.delivered = self.drawn = 0.0
        for number, tanker in enumerate(self.shuttle["tankers"]):
            self.env.process(self.drive(number, tanker))
        self.env.process(self.attack(job["flow_gpm"] / 60, job["from_s"]))
        self.env.run(job["until_s"])

    def vary(self, what):
        return factor(self.shuttle["spread"][what], self.dice)

    def attack(self, gal_per_s, from_s):
        yield self.env.timeout(from_s)
        while gal_per_s > 0:
            yield self.env.timeout(DRAW_S)
            wanted = min(gal_per_s * DRAW_S, self.tank.level)
            if wanted > 0:
                yield self.tank.get(wanted)
                self.drawn += wanted

    def leg(self, travel_s, passages):
        slow, at_s = self.vary("travel"), 0.0
        for passage in passages:
            yield self.env.timeout((passage["after"] - at_s) * slow)
            lane = self.lanes[passage["lane"]]
            yield lane.enter(passage["forward"])
            yield self.env.timeout(passage["take"] * slow)
            lane.leave()
            at_s = passage["after"] + passage["take"]
        yield self.env.timeout((travel_s - at_s) * slow)

    def drive(self, number, tanker):
        aboard = tanker["load"]
        yield self.env.timeout(tanker["arrives"] * self.vary("travel"))
        while True:
            with self.dump.request() as berth:
                yield berth
                yield self.env.timeout(tanker["dump_handling"] * self.vary("handling"))
                gal_per_s = tanker["dump_rate"] / 60 / self.vary("service")
                while aboard > 1e-9:
                    portion = min(PUT_GAL, aboard)
                    yield self.env.timeout(portion / gal_per_s)
                    yield self.tank.put(portion)
                    aboard -= portion
                    self.delivered += portion
            yield from self.leg(tanker["empty_travel"], tanker["empty_lanes"])
            source = self.sources[tanker["fill"]]
            with source.berths.request() as berth:
                yield berth
                yield self.env.timeout(tanker["fill_handling"] * self.vary("handling"))
                source.wanting[number] = tanker["intake"] / 60 / self.vary("service")
                while aboard < tanker["load"] - 1e-9:
                    rate = source.share(number)
                    span_s = min(SHARE_S, (tanker["load"] - aboard) / rate)
                    if source.left is not None:
                        if source.left <= 0:
                            break
                        span_s = min(span_s, source.left / rate)
                        source.left -= rate * span_s
                    yield self.env.timeout(span_s)
                    aboard += rate * span_s
                del source.wanting[number]
            if aboard < 1:
                return
            yield from self.leg(tanker["loaded_travel"], tanker["loaded_lanes"])


def tanker(load, leg, fill=0, arrives=300, intake=1000, dump=1200, handling=(90, 60), empty=(), loaded=()):
    return {
        "name": "T", "load": load, "fill": fill, "arrives": arrives, "empty_travel": leg,
        "loaded_travel": leg * 1.1, "empty_lanes": list(empty), "loaded_lanes": list(loaded),
        "intake": intake, "dump_rate": dump, "fill_handling": handling[0], "dump_handling": handling[1],
    }


def site(berths=1, flow=1000, volume=None):
    return {"name": "site", "berths": berths, "flow": flow, "volume": volume}


def through(lane, forward, after, take):
    return {"lane": lane, "forward": forward, "after": after, "take": take}


USUAL = {"travel": {"log-normal": {"cv": 0.1}}, "handling": {"log-normal": {"cv": 0.25}},
         "service": {"log-normal": {"cv": 0.1}}}
FIXED = {"travel": "fixed", "handling": "fixed", "service": "fixed"}
WILD = {"travel": "exponential", "handling": "exponential", "service": "exponential"}


def job(tankers, fills, flow, berths=1, room=1e6, lanes=0, spread=USUAL, from_s=1200):
    dump = {"berths": berths, "tank_room": room, "draw_limits": []}
    names = [{"name": f"lane {i}"} for i in range(lanes)]
    shuttle = {"tankers": tankers, "fills": fills, "dump": dump, "lanes": names, "spread": spread}
    return {"shuttle": shuttle, "flow_gpm": flow, "from_s": from_s, "until_s": UNTIL_S, "replications": OURS}


def jobs():
    six = [tanker(1350 + 300 * (i % 4), 300 + 25 * i, arrives=240 + 90 * i) for i in range(6)]
    two_sites = [dict(t, fill=i % 2) for i, t in enumerate(six + six)]
    narrow = [tanker(1800, 320, arrives=200 + 60 * i, empty=[through(0, True, 60, 90)],
                     loaded=[through(0, False, 150, 100)]) for i in range(5)]
    lanes = [tanker(1800, 420, arrives=200 + 60 * i,
                    empty=[through(0, True, 40, 80), through(1, True, 200, 60)],
                    loaded=[through(1, False, 60, 70), through(0, False, 240, 90)]) for i in range(8)]
    return {
        "one tanker": job([tanker(1800, 400)], [site()], 100),
        "six alike in nothing, no waiting to speak of": job(six[:3], [site(2)], 200, berths=2),
        "fill berth is the neck": job(six * 2, [site(1)], 600, berths=2),
        "dump berth is the neck": job([dict(t, dump_rate=400) for t in six * 2], [site(4, 4000)], 500),
        "berths share a weak source": job(six, [site(3, 500)], 300, berths=2),
        "two sites, two berths": job(two_sites, [site(2), site(1, 750)], 700, berths=2, room=9000),
        "small tanks hold tankers up": job(six, [site(2)], 350, berths=2, room=2500),
        "a cistern gives out": job(six[:4], [site(1, 800, 40000.0)], 250, berths=1, room=8000),
        "one narrow lane": job(narrow, [site(2)], 400, berths=2, lanes=1),
        "two lanes, eight tankers, wild times": job(lanes, [site(2)], 400, berths=2, lanes=2, spread=WILD),
        "fixed times": job(six, [site(1)], 400, berths=1, room=6000, spread=FIXED),
    }


def main():
    all_jobs = jobs()
    ran = subprocess.run([sys.argv[1]], input=json.dumps(list(all_jobs.values())), check=True,
                         capture_output=True, text=True)
    worst = 0.0
    print(f"{'configuration':<46} {'delivered':>17} {'off':>7} {'drawn':>17} {'off':>7}")
    for (name, each), ours in zip(all_jobs.items(), json.loads(ran.stdout)):
        number = 1 if each["shuttle"]["spread"] == FIXED else REPLICATIONS
        worlds = [World(each, random.Random(1000 + r)) for r in range(number)]
        cells = []
        for key, of in (("delivered_gal", "delivered"), ("drawn_gal", "drawn")):
            theirs = sum(getattr(world, of) for world in worlds) / number
            off = ours[key] / theirs - 1
            worst = max(worst, abs(off))
            cells.append(f"{ours[key]:>8.0f} {theirs:>8.0f} {100 * off:>6.2f}%")
        print(f"{name:<46} {'  '.join(cells)}")
    print(f"{len(all_jobs)} configurations beside simpy {simpy.__version__}: worst {100 * worst:.2f} %"
          f" (at most {100 * WITHIN:.0f} %)")
    sys.exit(0 if worst <= WITHIN else 1)


main()
