// What is said of the things of a zone.

import type { Told } from "./told";
import { distance, duration, flow, volume } from "./units";
import { about, buildings, ceiling, lengthOf, numberOf, road, textOf, textsOf } from "./zone";
import type { Gap, Proposal, Site } from "./zone";
import { STEPS } from "./zoneviews";

const words: Record<string, string> = {
  tankers: "tankers", "fill-berths": "room at the fill site", "source-flow": "flow of the source", "source-volume": "water in the source",
  "dump-berths": "room at the dump site", "supply-line": "supply line", pumper: "pumper", siphons: "siphons", suction: "suction hose",
  other: "other things", "no-loop": "no loop is open",
};
export const boundWords = (key: string): string => words[key] ?? key;

/** What holds a stretch back, with its site. */
export function bound(i: number): string {
  const site = textOf("bound_site", i);
  return `${boundWords(textOf("bound_by", i))}${site && `, ${site}`}`;
}

const tankers = (count: number | null): string => (count === null ? "not with this fleet" : count === 1 ? "1 tanker" : `${count} tankers`);

export const toldStretch = (i: number): Told => ({
  title: `${road(i)}: ${flow(ceiling(i))} at most`,
  lines: textOf("bound_by", i) === "no-loop" ? ["No tanker has a loop over a fill site from here."] : [
    `Held back by ${bound(i)}`, `Fill at ${textsOf("fill_sites", i).join(" + ")}`,
    ...about.compared.map(({ name, key }) => `${name}: ${flow(numberOf(`${key}_ceiling_gpm`, i) ?? 0)}`),
  ],
});

/** All of a stretch: term, value, property. */
export function rows(i: number): [string, string | null, string][] {
  const gpm = (key: string): string | null => { const value = numberOf(key, i); return value === null ? null : flow(value); };
  const time = (key: string): string | null => { const value = numberOf(key, i); return value === null ? null : duration(value); };
  const site = (key: string): string | null => { const name = textOf(`${key}_site`, i); return name ? `${name}, ${gpm(`${key}_site_gpm`) ?? "?"} alone` : null; };
  return [
    ["At most (closed form)", gpm("ceiling_gpm"), "ceiling_gpm"],
    ["Simulated, sustained", gpm("sustained_gpm"), "sustained_gpm"],
    ["Even if every tanker always waits for all others", gpm("at_least_gpm"), "at_least_gpm"],
    ["Without the tanker that matters most", gpm("one_lost_gpm"), "one_lost_gpm"],
    ["Held back by", bound(i), "bound_by"],
    ["Fill sites", textsOf("fill_sites", i).join(" + "), "fill_sites"],
    ["Best fill site", site("best"), "best_site"],
    ["Second fill site", site("second"), "second_site"],
    ["Cycle without waiting", time("cycle_s"), "cycle_s"],
    ["Sustained supply from", time("start_s"), "start_s"],
    ...STEPS.map((step): [string, string, string] => [`Tankers for ${flow(step)}`, tankers(numberOf(`tankers_${step}_gpm`, i)), `tankers_${step}_gpm`]),
    ...about.compared.map(({ name, key }): [string, string, string] => {
      const change = numberOf(`${key}_change_gpm`, i) ?? 0;
      return [name, `${gpm(`${key}_ceiling_gpm`) ?? "?"} (${change < 0 ? "−" : "+"}${flow(Math.abs(change))})`, `${key}_ceiling_gpm`];
    }),
    ["Length", distance(lengthOf(i)), "length_m"],
    ["Nearest road of", buildings(numberOf("buildings", i)), "buildings"],
    ["OpenStreetMap way", String(numberOf("way", i) ?? ""), "way"],
  ];
}

export const toldGap = (g: Gap): Told => ({
  title: `Gap ${g.gap}: ${distance(g.road_m)} of road below the need`,
  lines: [...(g.buildings === null ? [] : [`${buildings(g.buildings)} beside it`]), `${g.stretches} stretches with ${flow(g.least_ceiling_gpm)} to ${flow(g.most_ceiling_gpm)} at most`],
});

/** Said of what only the map shows. */
export const ASK = "Only the map shows water here: ask before relying on it";

export const toldProposal = (p: Proposal): Told => ({
  title: `Proposed fill site ${p.rank}: ${p.name}`,
  lines: [...(p.verified ? [] : [ASK]), p.note,
    `${p.kind}${p.flow_gpm === null ? "" : `, counted with ${flow(p.flow_gpm)}`}${p.volume_gal === null ? "" : ` and ${volume(p.volume_gal)} of water`}`,
    `Brings ${distance(p.road_brought_to_need_m)} of road up to the need`, `Closes ${gain(p.gain_gpm_km)} of what is missing`].filter(Boolean),
});

/** Missing flow times road. */
export const gain = (gpmKm: number): string => `${Math.round(gpmKm).toLocaleString("en-US")} gpm·km`;

export const toldSite = (site: Site): Told => ({
  title: `Fill site ${site.name}`,
  lines: [
    `${site.kind}${site.flow_gpm === null ? "" : `, ${flow(site.flow_gpm)}`}${site.volume_gal === null ? "" : `, ${volume(site.volume_gal)} of water`}, room for ${site.berths} at a time`,
    ...(site.used ? [] : [`Not used: ${site.reason ?? "no reason given"}`]), ...(site.verified ? [] : ["From map tags, never tested"]), site.note,
  ].filter(Boolean),
});
