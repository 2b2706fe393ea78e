// What is said of each thing on the map, as text: shown on hover, tap and focus, and read to those who
// do not see the map.

import type { DumpSite, Feature, FillSite, Incident, Leg, Properties, RoadNote, Staging, SupplyLine } from "./data";
import { distance, duration, flow, volume } from "./units";

export interface Told { title: string; lines: string[] }

const kindWords: Record<string, string> = {
  hydrant: "hydrant", "dry-hydrant": "dry hydrant", draft: "drafting site", stream: "stream", pond: "pond", cistern: "cistern",
};

function fillSite(site: FillSite): Told {
  const lines = [`${kindWords[site.kind] ?? site.kind}${site.flow_gpm === null ? "" : `, ${flow(site.flow_gpm)}`}${site.volume_gal === null ? "" : `, ${volume(site.volume_gal)} of water`}, room for ${site.berths} at a time`];
  if (!site.used) lines.push(`Not used: ${site.reason ?? "no reason given"}`);
  if (!site.verified) lines.push("From map tags, never tested");
  if (site.note) lines.push(site.note);
  return { title: `Fill site ${site.name}`, lines };
}

const dump = (d: DumpSite): Told => ({
  title: `Dump site, option ${d.option}`,
  lines: [
    `${d.road}; ${d.dump_berths === 1 ? "one tanker dumps" : `${d.dump_berths} tankers dump`} at a time`,
    `${volume(d.tank_room_gal)} in portable tanks; room for them is ${d.space}`,
    d.drive_through ? "Tankers drive through" : "Tankers turn or back here",
  ],
});

const leg = (l: Leg): Told => ({
  title: `${l.leg === "loaded" ? "Loaded" : "Empty"}, ${l.leg === "loaded" ? `${l.fill_site} to the dump site` : `dump site to ${l.fill_site}`}`,
  lines: [`${distance(l.distance_m)}, ${duration(l.travel_s)}; tankers ${l.tanker_ids}`, l.streets],
});

const supply = (x: SupplyLine): Told => ({
  title: "Supply line",
  lines: [`${x.lines === 1 ? "one line" : `${x.lines} lines`} of ${x.hose_in}-inch hose, ${distance(x.length_m)}, carries ${flow(x.flow_gpm)}`],
});

const staging = (x: Staging): Told => ({
  title: `Up to ${x.tankers} tankers wait here`,
  lines: [`${x.road}, ${distance(x.before_dump_m)} before the dump site; ${distance(x.room_m)} of road`],
});

const note = (x: RoadNote): Told => ({
  title: `${x.severity === "note" ? "Note" : "Caution"}${x.road ? `: ${x.road}` : ""}`,
  lines: [x.cause, x.action],
});

const incident = (x: Incident): Told => ({ title: x.name, lines: [`needs ${flow(x.needed_flow_gpm)}`] });

export function told(properties: Properties): Told {
  switch (properties.layer) {
    case "incident": return incident(properties);
    case "fill_site": return fillSite(properties);
    case "dump_site": return dump(properties);
    case "supply_line": return supply(properties);
    case "staging": return staging(properties);
    case "leg": return leg(properties);
    case "road_note": return note(properties);
    case "loop": return { title: `Loop over ${properties.fill_site}`, lines: [`tankers ${properties.tanker_ids}, cycle ${duration(properties.cycle_s)}`] };
  }
}

export const toldOf = (feature: Feature<Properties>): Told => told(feature.properties);
