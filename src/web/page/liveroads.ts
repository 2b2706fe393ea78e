// Roads the reader has closed, on the map; and the background that follows where the reader looks.

import type { GeoJSONSource, LayerSpecification, Map as EngineMap, SourceSpecification } from "maplibre-gl";
import { asCollection, unpack } from "./backdrop";
import type { Backdrop, Road } from "./backdrop";
import { packed, replaceBackground } from "./data";
import type { Position } from "./data";
import type { Engine } from "./engine";
import { backdrop as fetchBackdrop } from "./liveapi";
import type { Closed } from "./liveask";
import { grow } from "./mapstyle";
import { colours as c } from "./palette";

export const closedOnMap: { sources: Record<string, SourceSpecification>; under: LayerSpecification[] } = {
  sources: { closed: { type: "geojson", data: asCollection([]) } },
  under: [
    { id: "shut-halo", type: "line", source: "closed", layout: { "line-cap": "round" }, paint: { "line-color": c.paper, "line-width": grow(9, 7, 16, 16) } },
    { id: "shut", type: "line", source: "closed", paint: { "line-color": c.closed, "line-width": grow(9, 4, 16, 10), "line-dasharray": [0.5, 0.5] } },
  ],
};

export function drawClosed(map: EngineMap, roads: Closed[]): void {
  map.getSource<GeoJSONSource>("closed")?.setData(asCollection(roads.map((road) => ({
    type: "Feature", properties: { way: road.way.way, name: road.way.name }, geometry: { type: "MultiLineString", coordinates: road.way.lines },
  }))));
}

/** A place on the road of that name that is nearest to another; nothing where the background has none. */
export function onRoad(name: string, near: Position, backdrop: Backdrop): Position | null {
  const like = name.trim().toLocaleLowerCase();
  const shrink = Math.cos((near[1] * Math.PI) / 180);
  let [best, least]: [Position | null, number] = [null, Infinity];
  for (const road of backdrop.roads.filter((r: Road) => r.name.toLocaleLowerCase() === like)) {
    for (const [i, a] of road.line.entries()) {
      const b = road.line[i + 1];
      if (!b) continue;
      const at: Position = [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2];
      const far = Math.hypot((at[0] - near[0]) * shrink, at[1] - near[1]);
      if (far < least) [best, least] = [at, far];
    }
  }
  return best;
}

/** Fetches more of the background where the reader has moved beyond what is there, as far as the road file goes. */
export function followView(engine: Engine, limit: [number, number, number, number], shown: (backdrop: Backdrop) => void): void {
  let running: AbortController | null = null;
  let timer = 0;
  const look = async (): Promise<void> => {
    const bounds = engine.map.getBounds();
    const view = clip([bounds.getWest(), bounds.getSouth(), bounds.getEast(), bounds.getNorth()], limit);
    const have = packed?.bbox;
    if (have && have[0] <= view[0] && have[1] <= view[1] && have[2] >= view[2] && have[3] >= view[3]) return;
    running?.abort();
    running = new AbortController();
    const [wide, high] = [view[2] - view[0], view[3] - view[1]];
    const more = clip([view[0] - wide / 2, view[1] - high / 2, view[2] + wide / 2, view[3] + high / 2], limit);
    if (more[0] >= more[2] || more[1] >= more[3]) return;
    try {
      const next = await fetchBackdrop(more, running.signal);
      replaceBackground({ ...next, bbox: [Math.min(next.bbox[0], more[0]), Math.min(next.bbox[1], more[1]), Math.max(next.bbox[2], more[2]), Math.max(next.bbox[3], more[3])] });
      const backdrop = unpack(next);
      engine.replace(backdrop);
      shown(backdrop);
    } catch {
      // The background that is there stays; the next move tries again.
    }
  };
  engine.map.on("moveend", () => { clearTimeout(timer); timer = window.setTimeout(() => { void look(); }, 250); });
}

const clip = (box: number[], limit: number[]): [number, number, number, number] => [
  Math.max(box[0] ?? 0, limit[0] ?? 0), Math.max(box[1] ?? 0, limit[1] ?? 0), Math.min(box[2] ?? 0, limit[2] ?? 0), Math.min(box[3] ?? 0, limit[3] ?? 0),
];
