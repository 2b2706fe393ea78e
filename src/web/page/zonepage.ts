// The page of a zone: classes and filters on one side, the map, and what is known of the chosen stretch.

import { unpack } from "./backdrop";
import { packed } from "./data";
import type { Position } from "./data";
import { byId, h } from "./dom";
import { Stage, foot, head } from "./frame";
import { lineSwatch, sign, signNames } from "./signs";
import type { Sign } from "./signs";
import { flow, miles } from "./units";
import { about, buildings, count, gaps, indices, middle, need, proposals, sites } from "./zone";
import { summary, zoneFacts } from "./zonefacts";
import { Filter } from "./zonefilter";
import type { ZoneMap } from "./zonemap";
import { zoneSketch } from "./zonesketch";
import { classesThere, metresOf, roadByClass } from "./zoneviews";

const backdrop = unpack(packed);
let stage: Stage;
let filter: Filter;
let map: ZoneMap | null = null;
let shown: number[] = indices;
let chosen: number | null = asked();

/** The stretch that the address asks for. */
function asked(): number | null {
  const number = Number(/stretch=(\d+)/.exec(location.hash)?.[1]);
  return number >= 1 && number <= count ? number - 1 : null;
}

function header(): void {
  document.title = `${about.scenario}: roads by flow`;
  const { road_m, ceiling_meets_need_m, buildings_in_gaps } = about.summary;
  head("Response zone", about.scenario, [
    "Need ", h("strong", { "data-key": "need" }, flow(need)), ` for ${Math.round(about.period_s / 60)} min. The fleet can hold it on `,
    h("strong", { "data-key": "met_m" }, miles(ceiling_meets_need_m)), " of ", h("strong", { "data-key": "road_m" }, miles(road_m)), " of road at most.",
    ...(buildings_in_gaps ? [" Below it ", h("strong", { "data-key": "buildings_in_gaps" }, buildings(buildings_in_gaps) ?? ""), "."] : []),
  ], everything);
}

function legend(): void {
  const kinds: Sign[] = ["fill", ...(sites.some((x) => !x.used) ? ["unused" as const] : []), ...(proposals.length ? ["proposal" as const] : [])];
  stage.explain([
    ...classesThere(filter.view).map(([, k]): [Node, string] => [lineSwatch(k.style), k.label()]),
    ...kinds.map((kind): [Node, string] => [sign(kind), signNames[kind]]),
    ...(gaps.length && filter.gaps ? [[h("span", { class: "gap-swatch", "aria-hidden": "true" }), `Gap below ${flow(need)}`] as [Node, string]] : []),
  ]);
}

function describe(): void {
  const metres = roadByClass(filter.view, shown);
  const classes = filter.view.classes.map((k, i) => `${k.label()}: ${miles(metres[i] ?? 0)}`).join("; ");
  const first = gaps[0];
  stage.words.textContent = `The map shows ${miles(metresOf(shown))} of road. ${filter.view.name}: ${classes}.`
    + (first ? ` ${gaps.length} gaps below the need, the worst with ${miles(first.road_m)} of road.` : " No road is below the need.");
}

const goTo = (at: Position, zoom?: number): void => { map?.engine.goTo(at, zoom); byId("picture").scrollIntoView({ block: "nearest" }); };

function facts(): void {
  zoneFacts(byId("facts"), filter.view, shown, chosen, {
    choose: (i) => { choose(i); goTo(middle(i), 13.5); byId("facts-title").focus({ preventScroll: false }); }, goTo,
  });
}

function choose(i: number): void {
  chosen = i;
  history.replaceState(null, "", `#stretch=${i + 1}`);
  facts();
  byId("facts").scrollTo?.({ top: 0 });
  map?.show(filter.view, shown, filter.gaps, chosen);
}

function follow(): void {
  shown = filter.shown();
  filter.tell(shown);
  legend();
  describe();
  facts();
  stage.tell(null, false);
  stage.draw(zoneSketch(filter.view, shown, filter.gaps, backdrop));
  map?.show(filter.view, shown, filter.gaps, chosen);
}

/** Anew, in other units. */
function everything(): void {
  header();
  filter.draw();
  summary(byId("time"));
  follow();
  map?.units();
}

export function start(): void {
  byId("rig").hidden = true;
  document.body.classList.add("zone");
  header();
  foot(about.cautions, about.attribution, about.version);
  stage = new Stage(backdrop.notes);
  filter = new Filter(byId("options"), follow);
  filter.draw();
  summary(byId("time"));
  follow();
  addEventListener("hashchange", () => { const next = asked(); if (next !== null && next !== chosen) choose(next); });
  stage.startMap(async () => {
    const { ZoneMap: View } = await import("./zonemap");
    map = new View(stage.canvas, backdrop, stage.tell, choose);
    map.show(filter.view, shown, filter.gaps, chosen);
    if (chosen !== null) map.engine.goTo(middle(chosen));
    return map.engine.map;
  });
}
