// The zone in words and tables: the chosen stretch, the lowest of those shown, gaps, proposals, findings.

import type { Position } from "./data";
import { definitions, h, table } from "./dom";
import type { Child } from "./dom";
import { findingList } from "./facts";
import { verdict } from "./options";
import { distance, flow, miles } from "./units";
import { about, buildings, gaps, indices, need, proposals, road, sites } from "./zone";
import { ASK, bound, gain, rows } from "./zonetold";
import { metresOf, roadByClass, styles, views } from "./zoneviews";
import type { View } from "./zoneviews";
import { gapPlace } from "./zoneplace";

/** Rows of a long list at first, and with each press of its button. */
const ROWS = 25;

export interface Doing { choose: (stretch: number) => void; goTo: (at: Position, zoom?: number) => void }

const press = (text: string, label: string, click: () => void): HTMLElement =>
  h("button", { type: "button", class: "go", "aria-label": label, click }, text);

function chosen(view: View, i: number): HTMLElement[] {
  return [
    h("h2", { id: "facts-title", tabindex: -1 }, road(i)),
    verdict(view.meets(i)),
    definitions(rows(i).map(([term, value, key]): [string, Child, string] => [term, value, key])),
  ];
}

/** A table of which more is shown on demand. */
function long(caption: string, heads: string[], all: readonly number[], row: (i: number) => Child[]): HTMLElement {
  const box = h("div");
  const more = (upTo: number): void => {
    const rest = all.length - upTo;
    box.replaceChildren(table(caption, heads, all.slice(0, upTo).map(row)),
      ...(rest > 0 ? [h("p", {}, h("button", { type: "button", click: () => more(upTo + ROWS * 4) }, `Show more (${rest.toLocaleString("en-US")} left)`))] : []));
  };
  more(ROWS);
  return box;
}

/** The stretches that are shown, the lowest flow first: the map in words. Those of one road with the same figures are one row. */
function lowest(view: View, shown: readonly number[], doing: Doing): HTMLElement {
  const alike = new Map<string, number[]>();
  for (const i of shown) {
    const key = `${Math.round(view.gpm(i))} ${road(i)} ${bound(i)}`;
    const group = alike.get(key);
    if (group) group.push(i);
    else alike.set(key, [i]);
  }
  const groups = [...alike.values()].sort((a, b) => view.gpm(a[0] ?? 0) - view.gpm(b[0] ?? 0) || metresOf(b) - metresOf(a));
  return long("Stretches shown, lowest flow first", ["road", "at most", "held back by"], groups.map((_, n) => n), (n) => {
    const group = groups[n] ?? [];
    const i = group[0] ?? 0;
    const length = `${group.length === 1 ? "" : `${group.length} stretches, `}${distance(metresOf(group))}`;
    return [
      h("div", {}, press(road(i), `${road(i)}, ${flow(view.gpm(i))}, ${length}: show its numbers and place`, () => doing.choose(i)), h("div", { class: "aside" }, length)),
      flow(view.gpm(i)), bound(i),
    ];
  });
}

function gapTable(doing: Doing): HTMLElement {
  return long("Gaps, the one with most missing first", ["gap", "road below the need", "at most", "missing"], gaps.map((_, i) => i), (i) => {
    const g = gaps[i];
    if (!g) return [];
    return [
      press(`Gap ${g.gap}`, `Gap ${g.gap}: show on the map`, () => { const at = gapPlace(i); if (at) doing.goTo(at, 12.5); }),
      h("div", {}, distance(g.road_m), ...(g.buildings === null ? [] : [h("div", { class: "aside" }, buildings(g.buildings) ?? "")])), `${flow(g.least_ceiling_gpm).split(" ")[0]} to ${flow(g.most_ceiling_gpm)}`, gain(g.missing_gpm_km),
    ];
  });
}

function proposalTable(doing: Doing): HTMLElement {
  return table("Proposed fill sites, each with what it adds to those before it", ["site", "road brought to the need", "of what is missing it closes"],
    proposals.map((p) => [h("div", {}, press(`${p.rank}. ${p.name}`, `${p.rank}. ${p.name}: show on the map`, () => doing.goTo(p.at, 13)), ...(p.verified ? [] : [h("div", { class: "aside" }, ASK)])), distance(p.road_brought_to_need_m), gain(p.gain_gpm_km)]));
}

function siteTable(doing: Doing): HTMLElement {
  return h("details", {}, h("summary", {}, `Fill sites (${sites.length})`),
    long("Fill sites", ["site", "flow", "used"], sites.map((_, i) => i), (i) => {
      const site = sites[i];
      if (!site) return [];
      return [press(site.name, `${site.name.slice(0, 200)}: show on the map`, () => doing.goTo(site.at)), site.flow_gpm === null ? "not known" : flow(site.flow_gpm), site.used ? "yes" : site.reason ?? "no"];
    }));
}

export function zoneFacts(into: HTMLElement, view: View, shown: readonly number[], stretch: number | null, doing: Doing): void {
  const title = (text: string): HTMLElement => h("h3", {}, text);
  const top = stretch === null
    ? [h("h2", { id: "facts-title", tabindex: -1 }, "The zone"), h("p", { class: "aside" }, "Point at a road for its flow; tap it, or choose it from the list, for all its numbers.")]
    : chosen(view, stretch);
  into.replaceChildren(...top,
    title("Lowest flow"), lowest(view, shown, doing),
    ...(gaps.length ? [title("Gaps"), gapTable(doing)] : []),
    ...(proposals.length ? [title("Proposals"), proposalTable(doing)] : []),
    title("Sites and findings"), siteTable(doing), findingList("All findings of this zone", about.findings));
}

/** Shares of the road by class, as a bar in the classes' own lines. */
function bar(view: View): HTMLElement {
  const metres = roadByClass(view);
  const all = metres.reduce((a, b) => a + b, 0) || 1;
  const box = h("div", { class: "stack", "aria-hidden": "true" });
  metres.forEach((m, k) => {
    const style = view.classes[k]?.style;
    if (!style || m <= 0) return;
    const part = h("span", { class: `part part-${style.colour}${style === styles.none ? " part-none" : ""}` });
    part.style.flexGrow = String(m / all);
    box.append(part);
  });
  return box;
}

/** Road by flow class of the request and of those beside it, and how the simulation compares. */
export function summary(into: HTMLElement): void {
  const flows = views.filter((v) => !v.key.startsWith("change-"));
  const own = flows[0];
  if (!own) return;
  const { sample } = about.summary;
  const percent = (share: number): string => `${Math.round(share * 100)} %`;
  const names = ["this request", ...about.compared.map((v) => v.name)];
  into.replaceChildren(
    h("h2", { id: "time-title" }, "Road by flow class"),
    ...flows.map((v, n) => h("figure", {}, h("figcaption", {}, names[n] ?? v.name), bar(v))),
    table(`Road by the flow that the fleet can hold at most; the need is ${flow(need)}`, ["request", ...own.classes.map((k) => k.label()), "meets the need"],
      flows.map((v, n) => [names[n] ?? v.name, ...roadByClass(v).map(miles), miles(metresOf(indices.filter(v.meets)))])),
    h("p", { class: "aside" }, sample
      ? `Simulated on ${sample.stretches} stretches: sustained flow is ${percent(sample.sustained_of_ceiling_median)} of the figure shown (${percent(sample.sustained_of_ceiling_least)} to ${percent(sample.sustained_of_ceiling_most)}); ${sample.need_met_by_ceiling_only} of them meet the need by that figure only.`
      : "Nothing was simulated: every figure is the closed form's, which the fleet cannot pass."));
}
