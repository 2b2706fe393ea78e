// The page of an answer: the list of options on one side, and everything that follows the choice.

import { unpack } from "./backdrop";
import { Chart } from "./chart";
import { about, answer, layer, ofOption, packed } from "./data";
import type { Position } from "./data";
import { byId, h } from "./dom";
import { facts, rig } from "./facts";
import { Stage, foot, head } from "./frame";
import type { MapView } from "./map";
import { firstChoice, options } from "./options";
import { sign, signNames, swatch } from "./signs";
import type { Sign } from "./signs";
import { sketch } from "./sketch";
import { distance, duration, flow } from "./units";

const backdrop = unpack(packed);
let option = firstChoice();
let map: MapView | null = null;
let chart: Chart | null = null;
let stage: Stage;

function header(): void {
  const { tankerloop: t } = answer;
  const incident = layer("incident")[0]?.properties;
  const met = layer("dump_site").filter((f) => f.properties.meets_need).length;
  const all = layer("dump_site").length;
  document.title = `${t.scenario}: tanker shuttle`;
  head("Tanker shuttle plan", t.scenario, [
    `${incident?.name ?? "incident"} needs `, h("strong", { "data-key": "need" }, flow(t.needed_flow_gpm)),
    ` for ${Math.round(t.period_s / 60)} min at ${Math.round(t.reliability * 100)} % reliability. `,
    h("strong", {}, t.meets_need ? `${met} of ${all} options ${met === 1 ? "meets" : "meet"} it.` : "No option meets it."),
  ], everything);
}

/** The map in words, for those who do not see it. */
function describe(): void {
  const dump = ofOption("dump_site", option)[0]?.properties;
  const legs = ofOption("leg", option).map(({ properties: p }) =>
    `${p.leg} ${p.leg === "loaded" ? `from ${p.fill_site}` : `to ${p.fill_site}`} ${distance(p.distance_m)} in ${duration(p.travel_s)} by ${p.streets}`);
  stage.words.textContent = dump
    ? `The map of option ${option}: dump site on ${dump.road}, ${distance(dump.supply_line_m)} of hose from the incident; ${legs.join("; ")}.`
    : "The map shows the incident and the fill sites; there is no option.";
}

const goTo = (at: Position): void => { map?.engine.goTo(at); byId("picture").scrollIntoView({ block: "nearest" }); };

function follow(): void {
  facts(byId("facts"), option, goTo);
  rig(byId("rig"), option);
  describe();
  stage.tell(null, false);
  stage.draw(sketch(option, backdrop));
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

export function start(): void {
  header();
  foot(answer.tankerloop.cautions, answer.tankerloop.attribution, answer.tankerloop.version);
  stage = new Stage(backdrop.notes);
  const signs: Sign[] = ["incident", "dump", "fill", "staging", "note", "unused"];
  stage.explain([
    [swatch("loaded"), "Loaded leg"], [swatch("empty"), "Empty leg"], [swatch("supply"), "Supply line"],
    ...signs.map((kind): [Node, string] => [sign(kind), signNames[kind]]),
  ]);
  chart = new Chart(byId("time"));
  options(byId("options"), option, choose);
  follow();
  addEventListener("hashchange", () => { const asked = firstChoice(); if (asked !== option) { choose(asked); options(byId("options"), option, choose); } });
  stage.startMap(async () => {
    const { MapView: View } = await import("./map");
    map = new View(stage.canvas, backdrop, stage.tell);
    map.show(option);
    return map.engine.map;
  });
}
