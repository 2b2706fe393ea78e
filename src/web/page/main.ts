// Puts the page together: the list of options on one side, and everything that follows the choice.

import { unpack } from "./backdrop";
import { Chart } from "./chart";
import { about, answer, layer, ofOption, packed } from "./data";
import type { Position } from "./data";
import { byId, h } from "./dom";
import { facts, rig } from "./facts";
import type { MapView } from "./map";
import { firstChoice, options } from "./options";
import { paint } from "./palette";
import { sign, signNames, swatch } from "./signs";
import type { Sign } from "./signs";
import { sketch } from "./sketch";
import type { Told } from "./told";
import { distance, duration, flow, getSystem, setSystem } from "./units";
import type { System } from "./units";

const backdrop = unpack(packed);
let option = firstChoice();
let map: MapView | null = null;
let chart: Chart | null = null;
const canvas = h("div", { id: "map", "aria-describedby": "map-words" });
const drawing = h("div", { id: "drawing" });
const detail = h("div", { id: "detail", role: "status", "aria-live": "polite" });
const words = h("p", { id: "map-words", class: "aside" });

function header(): void {
  const { tankerloop: t } = answer;
  const incident = layer("incident")[0]?.properties;
  const met = layer("dump_site").filter((f) => f.properties.meets_need).length;
  const all = layer("dump_site").length;
  const units = h("select", { id: "units", change: (event: Event) => { setSystem((event.target as HTMLSelectElement).value as System); everything(); } },
    h("option", { value: "us" }, "gpm, gallons, miles"), h("option", { value: "metric" }, "L/min, litres, km"));
  units.value = getSystem();
  document.title = `${t.scenario}: tanker shuttle`;
  byId("head").replaceChildren(
    h("div", { class: "head-title" }, h("p", { class: "head-kind" }, "Tanker shuttle plan"), h("h1", {}, t.scenario)),
    h("p", { class: "head-need" }, `${incident?.name ?? "incident"} needs `, h("strong", { "data-key": "need" }, flow(t.needed_flow_gpm)),
      ` for ${Math.round(t.period_s / 60)} min at ${Math.round(t.reliability * 100)} % reliability. `,
      h("strong", {}, t.meets_need ? `${met} of ${all} options ${met === 1 ? "meets" : "meet"} it.` : "No option meets it.")),
    h("div", { class: "head-tools" }, h("label", { for: "units" }, "Units "), units,
      h("button", { type: "button", click: () => window.print() }, "Print")));
}

function legend(): HTMLElement {
  const item = (picture: Node, text: string): HTMLElement => h("li", {}, picture, text);
  const signs: Sign[] = ["incident", "dump", "fill", "staging", "note", "unused"];
  return h("ul", { class: "legend", "aria-label": "Legend" },
    item(swatch("loaded"), "Loaded leg"), item(swatch("empty"), "Empty leg"), item(swatch("supply"), "Supply line"),
    ...signs.map((kind) => item(sign(kind), signNames[kind])));
}

function tell(what: Told | null, pinned: boolean): void {
  detail.classList.toggle("pinned", pinned);
  detail.replaceChildren(...(what ? [h("p", { class: "detail-title" }, what.title), ...what.lines.filter(Boolean).map((line) => h("p", {}, line))] : []));
}

/** The map in words, for those who do not see it. */
function describe(): void {
  const dump = ofOption("dump_site", option)[0]?.properties;
  const legs = ofOption("leg", option).map(({ properties: p }) =>
    `${p.leg} ${p.leg === "loaded" ? `from ${p.fill_site}` : `to ${p.fill_site}`} ${distance(p.distance_m)} in ${duration(p.travel_s)} by ${p.streets}`);
  words.textContent = dump
    ? `The map of option ${option}: dump site on ${dump.road}, ${distance(dump.supply_line_m)} of hose from the incident; ${legs.join("; ")}.`
    : "The map shows the incident and the fill sites; there is no option.";
}

function picture(): void {
  const notes = backdrop.notes.length ? h("p", { class: "aside" }, `Map: ${backdrop.notes.join("; ")}.`) : null;
  byId("picture").replaceChildren(
    h("h2", { id: "map-title", class: "unseen" }, "Map"), h("div", { class: "stage" }, canvas, drawing, detail), legend(),
    h("details", { class: "words" }, h("summary", {}, "The map in words"), words), ...(notes ? [notes] : []));
}

function footer(): void {
  const { cautions, attribution, version } = answer.tankerloop;
  byId("foot").replaceChildren(h("h2", {}, "Cautions"), h("ul", {}, ...cautions.map((text) => h("li", {}, text))),
    h("p", { class: "source" }, `${attribution}. Written by tankerloop ${version}.`));
}

const goTo = (at: Position): void => { map?.goTo(at); byId("picture").scrollIntoView({ block: "nearest" }); };

function follow(): void {
  facts(byId("facts"), option, goTo);
  rig(byId("rig"), option);
  describe();
  tell(null, false);
  drawing.replaceChildren(sketch(option, backdrop));
  chart?.show(about.series.find((s) => s.option === option) ?? null);
}

function choose(next: number): void {
  option = next;
  history.replaceState(null, "", `#option=${option}`);
  follow();
  map?.show(option);
}

/** Anew, in other units. */
function everything(): void {
  header();
  options(byId("options"), option, choose);
  follow();
  map?.units();
}

function start(): void {
  paint();
  setSystem(about.units);
  header();
  footer();
  picture();
  chart = new Chart(byId("time"));
  options(byId("options"), option, choose);
  follow();
  addEventListener("hashchange", () => { const asked = firstChoice(); if (asked !== option) { choose(asked); options(byId("options"), option, choose); } });
  afterFirstPicture(() => { void startMap(); });
}

async function startMap(): Promise<void> {
  performance.mark("page-told");
  try {
    const { MapView: View } = await import("./map");
    map = new View(canvas, backdrop, tell);
    map.engine.once("idle", () => { document.body.classList.add("map-ready"); performance.mark("map-drawn"); });
    map.show(option);
    // For tests, and for whoever looks into the page.
    (window as unknown as { tankerloopMap: unknown }).tankerloopMap = map.engine;
  } catch {
    document.body.classList.add("no-map");
    tell({ title: "This browser cannot draw the moving map", lines: ["It has no WebGL2. The drawing and the tables say the same."] }, true);
  }
}

/** The engine takes a moment to make ready and holds everything else up meanwhile: what can be seen without
 * it comes first. */
function afterFirstPicture(work: () => void): void {
  let done = false;
  const once = (): void => {
    if (!done) setTimeout(work, 0);
    done = true;
  };
  new PerformanceObserver((entries) => { if (entries.getEntriesByName("first-contentful-paint").length) once(); }).observe({ type: "paint", buffered: true });
  // In a tab in the background nothing is painted.
  setTimeout(once, 1500);
}

start();
