// The options as a group of radio buttons: the arrow keys go through them, as the platform has it.

import { layer, ofOption } from "./data";
import type { DumpSite } from "./data";
import { definitions, h } from "./dom";
import { distance, flow, timeOf } from "./units";

/** Who fills where, in the words of the loops. */
export function crews(option: number): string {
  const sites = new Map<string, string[]>();
  for (const { properties: p } of ofOption("loop", option)) sites.set(p.fill_site, [...(sites.get(p.fill_site) ?? []), p.tanker_ids]);
  return [...sites].map(([site, ids]) => `${site} (${ids.join(", ")})`).join(" + ");
}

export function verdict(meets: boolean): HTMLElement {
  return h("span", { class: meets ? "verdict met" : "verdict short", "data-key": "meets_need" }, meets ? "✓ meets the need" : "✗ short of the need");
}

/** The sustained flow, or what stands in for it until it is simulated. */
export const flowOf = (d: DumpSite): number => d.sustained_flow_gpm ?? d.ceiling_flow_gpm;

const pending = (): HTMLElement => h("span", { class: "verdict pending", "data-key": "not_simulated" }, "◌ at most; not yet simulated");

/** Whether an option meets the need, as far as it is known. */
export const verdictOf = (d: DumpSite): HTMLElement => (d.sustained_flow_gpm === null ? pending() : verdict(d.meets_need));

/** Flow beside the need, as a bar; the numbers stand beside it. */
function bar(d: DumpSite, most: number): HTMLElement {
  const share = (value: number): string => `${Math.min(100, (value / most) * 100).toFixed(1)}%`;
  const fill = h("span", { class: "bar-fill" });
  const need = h("span", { class: "bar-need" });
  fill.style.width = share(flowOf(d));
  need.style.left = share(d.needed_flow_gpm);
  return h("span", { class: "bar", "aria-hidden": "true" }, fill, need);
}

function card(d: DumpSite, chosen: boolean, most: number, choose: (option: number) => void): HTMLElement {
  const kinds = [...new Set(ofOption("loop", d.option).map((f) => f.properties.loop_kind))].filter((k) => k !== "quickest");
  const id = `option-${d.option}`;
  const radio = h("input", { type: "radio", name: "option", id, value: d.option, "aria-describedby": `${id}-about`, change: () => choose(d.option) });
  radio.checked = chosen;
  return h("div", { class: "card", "data-option": d.option },
    radio,
    h("label", { for: id },
      h("span", { class: "card-head" },
        h("span", { class: "card-number" }, `Option ${d.option}`),
        h("span", { class: "card-flow", "data-key": "sustained_flow_gpm" }, flow(flowOf(d)))),
      bar(d, most),
      verdictOf(d)),
    h("div", { id: `${id}-about` }, definitions([
      ["Need", flow(d.needed_flow_gpm), "needed_flow_gpm"],
      ["Held from", timeOf(d.sustained_from_s), "sustained_from_s"],
      ["Dump site", `${d.road}, ${distance(d.supply_line_m)} of hose${kinds.length ? `, ${kinds.join(", ").replaceAll("_", " ")}` : ""}`, "road"],
      ["Fill sites", crews(d.option), "fill_sites"],
      ["Tankers", String(d.tankers), "tankers"],
      ["Held back by", d.limiter, "limiter"],
    ])));
}

export function options(into: HTMLElement, chosen: number, choose: (option: number) => void): void {
  const all = layer("dump_site").map((f) => f.properties);
  const most = Math.max(1, ...all.flatMap((d) => [flowOf(d), d.needed_flow_gpm])) * 1.1;
  const title = h("h2", { id: "options-title" }, all.length === 1 ? "One option" : `${all.length || "No"} options`);
  if (all.length === 0) {
    into.replaceChildren(title, h("p", {}, "No tanker has a loop over any fill site. What stands in the way is told under findings."));
    return;
  }
  into.replaceChildren(title, h("div", { class: "cards", role: "radiogroup", "aria-labelledby": "options-title" },
    ...all.map((d) => card(d, d.option === chosen, most, choose))));
}

/** The option asked for if there is one of that number, or the first. */
export function firstChoice(text: string): number {
  const asked = Number(/option=(\d+)/.exec(text)?.[1]);
  const all = layer("dump_site").map((f) => f.properties.option);
  return all.includes(asked) ? asked : (all[0] ?? 0);
}
