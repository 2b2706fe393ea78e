// Everything about the chosen option in words and tables: for those who read, and those who listen.

import { answer, layer, ofOption } from "./data";
import type { DumpSite, Finding, Leg, Position, RoadNote } from "./data";
import { definitions, h, table } from "./dom";
import { crews, verdictOf } from "./options";
import { sign } from "./signs";
import { distance, duration, flow, flowIf, getSystem, length, timeOf, volume } from "./units";

const yes = (value: boolean): string => (value ? "yes" : "no");

/** From when each round flow is held; none where it never is. */
function milestones(d: DumpSite): string {
  const told: [number, number | null | undefined][] = [
    [250, d.held_250_gpm_from_s], [500, d.held_500_gpm_from_s], [750, d.held_750_gpm_from_s], [1000, d.held_1000_gpm_from_s],
  ];
  return told.flatMap(([gpm, from]) => (typeof from === "number" ? [`${flow(gpm)} from ${duration(from)}`] : [])).join(", ");
}

/** What to call for where no option meets the need. */
function call(): HTMLElement | null {
  const asked = answer.tankerloop.call;
  if (!asked) return null;
  const said: string[] = asked.sustained_flow_gpm === null
    ? ["Mutual aid: none is listed, or all of it does not meet the need."]
    : asked.vehicles.map((v) => `${v.id} (${v.kind}): ${v.call}, at the scene after ${duration(v.arrives_s)}`)
      .concat(`With them ${flow(asked.sustained_flow_gpm)}${asked.meets_need ? "" : ", still less than the need"}`);
  if (asked.more_tankers !== null) said.push(`Or ${asked.more_tankers} more like ${asked.more_tankers_like ?? "the largest"}`);
  const source = asked.new_source;
  if (source) said.push(`Or a new source of ${flow(source.flow_gpm)} with ${source.berths} berths, no more than ${duration(source.longest_leg_s)} from the dump site`);
  if (asked.held_by) said.push(`No tanker and no source helps while ${asked.held_by.replaceAll(/[-_]/g, " ")} carries less than the need`);
  return h("div", { class: "call" }, h("h3", {}, "What to call for"), h("ul", {}, ...said.map((line) => h("li", {}, line))));
}

function numbers(d: DumpSite): HTMLElement {
  return definitions([
    ["Sustained flow", flowIf(d.sustained_flow_gpm), "sustained_flow_gpm"],
    ["Ceiling by the closed form", flow(d.ceiling_flow_gpm), "ceiling_flow_gpm"],
    ["Needed", flow(d.needed_flow_gpm), "needed_flow_gpm"],
    ["If the tanker that matters most is lost", flowIf(d.one_tanker_lost_flow_gpm), "one_tanker_lost_flow_gpm"],
    ["First water", timeOf(d.first_water_s), "first_water_s"],
    [d.meets_need ? "Need held from" : "Its flow held from", timeOf(d.sustained_from_s), "sustained_from_s"],
    ["Held back by", d.limiter === null ? null : `${d.limiter}; relief gains ${flow(d.limiter_gain_gpm ?? 0)}`, "limiter"],
    ["Held from", milestones(d)],
    ["With one tanker lost", d.tanker_lost_flows],
    ["With a source failed", d.source_failed_flows],
    ["Fewest tankers for the need", d.fewest_tankers],
    ["Berths that are enough", d.berths_enough],
    ["Fill sites and tankers", crews(d.option)],
    ["Supply line", `${distance(d.supply_line_m)}, carries ${flow(d.supply_line_flow_gpm)}`, "supply_line_m"],
    ["With relay pumpers", d.flow_with_relay_gpm === null ? null : `${d.relay_pumpers} would carry ${flow(d.flow_with_relay_gpm)}`],
    ["Portable tanks", volume(d.tank_room_gal), "tank_room_gal"],
    ["Room at the dump site", `${d.space}; road ${d.road_width_m === null ? "of unmapped width" : `${length(d.road_width_m)} wide`}`],
    ["Drive-through", yes(d.drive_through)],
    ["Waiting to dump, mean", d.wait_dump_s === null ? null : `${duration(d.wait_dump_s)}, and ${duration(d.wait_full_tanks_s ?? 0)} at full tanks`],
    ["Waiting on narrow road", d.wait_lanes],
    ["Bridges nobody has rated", String(d.unknown_weight_bridges), "unknown_weight_bridges"],
    ["Beside the nearest dump site", d.trade_off],
    ["Simulated", d.replications === null ? "not yet" : `${d.replications} runs, seed ${d.seed ?? "?"}`],
  ]);
}

function loops(option: number): HTMLElement {
  const rows = ofOption("loop", option).map(({ properties: p }) => [
    p.fill_site, p.tanker_ids, `${distance(p.loaded_distance_m)}, ${duration(p.loaded_travel_s)}`,
    `${distance(p.empty_distance_m)}, ${duration(p.empty_travel_s)}`, duration(p.cycle_s), distance(p.narrow_two_way_m),
  ]);
  return table("Loops", ["fill site", "tankers", "loaded leg", "empty leg", "cycle", "narrow, both ways"], rows);
}

function turns(leg: Leg): HTMLElement {
  const loaded = leg.leg === "loaded";
  const title = loaded ? `Loaded: ${leg.fill_site} to the dump site` : `Empty: dump site to ${leg.fill_site}`;
  return h("details", { class: `turns ${leg.leg}` },
    h("summary", {}, h("span", { class: "turns-title" }, title), ` ${distance(leg.distance_m)}, ${duration(leg.travel_s)}; ${leg.tanker_ids}`),
    h("ol", {}, ...leg.steps.map((step) => h("li", {}, `${step.instruction}, heading ${step.heading}${step.distance_m > 0 ? `, ${distance(step.distance_m)}` : ""}`))));
}

function approaches(option: number): HTMLElement {
  const said = ofOption("loop", option).flatMap(({ properties: p }) => [
    h("li", {}, h("strong", {}, `${p.fill_site}, tankers ${p.tanker_ids}: `), p.fill_approach),
    h("li", {}, h("strong", {}, `Dump site, tankers ${p.tanker_ids}: `), p.dump_approach),
  ]);
  return h("ul", {}, ...said);
}

function notes(option: number, goTo: (at: Position) => void): HTMLElement | null {
  const all = ofOption("road_note", option);
  if (all.length === 0) return null;
  return h("ol", { class: "notes" }, ...all.map((f, i) => {
    const p: RoadNote = f.properties;
    return h("li", {},
      sign("note", String(i + 1)),
      h("div", {}, h("p", {}, h("strong", {}, p.road || p.osm || p.code), " ", h("code", {}, p.code)),
        h("p", {}, p.cause), h("p", {}, "Do: ", p.action),
        h("button", { type: "button", click: () => goTo(f.geometry.coordinates as Position) }, `Show note ${i + 1} on the map`)));
  }));
}

/** Drawn in letters, as on the terminal: it prints anywhere. What it shows is told below it. */
export function rig(into: HTMLElement, option: number): void {
  const text = answer.tankerloop.rigs.find((r) => r.option === option)?.[getSystem()];
  into.hidden = !text;
  if (!text) return into.replaceChildren();
  into.replaceChildren(h("h2", { id: "rig-title" }, "Dump rig"), h("div", { class: "rig" },
    h("p", {}, text.head.split("\n")[0] ?? ""),
    h("div", { class: "wide", tabindex: 0, role: "region", "aria-label": "Drawing of the dump rig" },
      h("pre", { role: "img", "aria-label": "The site from above: hose side, pumper, tanks with siphons, clear lane. How it is built is told below." }, text.drawing)),
    h("details", {}, h("summary", {}, "How it is built and set"),
      h("p", {}, text.legend), h("p", {}, text.tanks),
      h("h3", {}, "Build it as they come"),
      h("ol", {}, ...text.stages.map((stage) => h("li", {}, stage.action, h("br", {}), h("strong", {}, stage.gives)))),
      table("Valves to open, in this order as the flow grows", text.valves[0] ?? [], text.valves.slice(1)),
      h("ul", {}, ...[...text.valve_notes, ...text.notes, ...answer.tankerloop.rig_cautions].map((note) => h("li", {}, note))))));
}

function where(f: Finding): string {
  const row = f.where.row === undefined ? "" : ` row ${f.where.row}`;
  return [f.where.name, f.where.file ? `${f.where.file}${row}` : null].filter(Boolean).join(", ");
}

export function findingList(title: string, findings: Finding[]): HTMLElement {
  const rank: Record<string, number> = { error: 0, caution: 1, note: 2 };
  const all = [...findings].sort((a, b) => (rank[a.severity] ?? 3) - (rank[b.severity] ?? 3));
  return h("details", {}, h("summary", {}, `${title} (${all.length})`),
    h("ul", { class: "findings" }, ...all.map((f) => h("li", {},
      h("p", {}, h("strong", {}, f.severity), " ", h("code", {}, f.code), " ", where(f)), h("p", {}, f.cause), h("p", {}, "Do: ", f.action)))));
}

const findings = (): HTMLElement => findingList("All findings of this answer", answer.tankerloop.findings);

function unused(): HTMLElement | null {
  const sites = layer("fill_site").map((f) => f.properties).filter((p) => !p.used);
  if (sites.length === 0) return null;
  return h("details", {}, h("summary", {}, `Fill sites in no option (${sites.length})`),
    h("ul", {}, ...sites.map((p) => h("li", {}, h("strong", {}, p.name), `, ${p.kind}: ${p.reason ?? "no reason given"}`))));
}

export function facts(into: HTMLElement, option: number, goTo: (at: Position) => void): void {
  const d = ofOption("dump_site", option)[0]?.properties;
  const head = (text: string): HTMLElement => h("h3", {}, text);
  const title = h("h2", { id: "facts-title" }, d ? `Option ${option}` : "Answer");
  if (!d) {
    into.replaceChildren(title, findings(), ...[unused()].filter((x) => x !== null));
    return;
  }
  const told = notes(option, goTo);
  const parts: (Node | null)[] = [
    title, verdictOf(d), call(), numbers(d),
    head("Loops and turn lists"), loops(option), ...ofOption("leg", option).map((f) => turns(f.properties)),
    head("At the sites"), approaches(option),
    told ? head("Notes on the way") : null, told,
    head("Findings"), findings(), unused(),
  ];
  into.replaceChildren(...parts.filter((x) => x !== null));
}
