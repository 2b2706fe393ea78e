// How the map is drawn: layers from the ground up. Labels need no fonts from outside: without `glyphs`
// in the style the engine draws them with the reader's own.

import type { ExpressionSpecification, FilterSpecification, LayerSpecification, SourceSpecification, StyleSpecification } from "maplibre-gl";
import type { Backdrop } from "./backdrop";
import { asGeoJson } from "./backdrop";
import { colours as c } from "./palette";

export const FONT = ["sans-serif"];
const MAIN = ["motorway", "trunk", "primary", "secondary"];
const MIDDLE = ["tertiary"];
const SMALL = ["unclassified", "residential", "living_street"];

const kinds = (of: string[]): FilterSpecification => ["in", ["get", "kind"], ["literal", of]];
/** The page's own text size beside the usual one: larger on a wall. */
export const scale = (): number => (parseFloat(getComputedStyle(document.documentElement).fontSize) || 16) / 16;

export const grow = (...stops: number[]): ExpressionSpecification =>
  ["interpolate", ["exponential", 1.5], ["zoom"], ...stops.map((stop, i) => (i % 2 ? stop * scale() : stop))] as unknown as ExpressionSpecification;

/** Edge first, then fill, for each class from the smallest up. */
function roads(): LayerSpecification[] {
  const pair = (id: string, of: string[], edge: string, fill: string, least: number, wide: number, from: number): LayerSpecification[] => [
    {
      id: `${id}-edge`, type: "line", source: "roads", filter: kinds(of), minzoom: from, layout: { "line-cap": "round", "line-join": "round" },
      paint: { "line-color": edge, "line-width": grow(9, least + 1.2, 16, wide + 3) },
    },
    {
      id, type: "line", source: "roads", filter: kinds(of), minzoom: from, layout: { "line-cap": "round", "line-join": "round" },
      paint: { "line-color": fill, "line-width": grow(9, least, 16, wide) },
    },
  ];
  return [
    {
      id: "tracks", type: "line", source: "roads", filter: kinds(["track", "path"]), minzoom: 11,
      paint: { "line-color": c.roadEdge, "line-width": grow(11, 0.8, 16, 2.5), "line-dasharray": [3, 2] },
    },
    {
      id: "ferries", type: "line", source: "roads", filter: kinds(["ferry"]),
      paint: { "line-color": c.shore, "line-width": 1.5, "line-dasharray": [4, 4] },
    },
    ...pair("service", ["service"], c.roadEdge, c.road, 0.4, 5, 12),
    ...pair("small", SMALL, c.roadEdge, c.road, 0.6, 9, 9),
    ...pair("middle", MIDDLE, c.edge, c.road, 1.4, 11, 5),
    ...pair("main", MAIN, c.mainEdge, c.mainRoad, 2, 13, 5),
    {
      id: "closed", type: "line", source: "roads", filter: ["get", "closed"],
      paint: { "line-color": c.closed, "line-width": grow(9, 2, 16, 8), "line-dasharray": [0.6, 0.9] },
    },
  ];
}

/** Legs are drawn beside the middle of the road, on the right in their direction of travel, so that a road driven both ways
 * shows both; loops that share a road lie beside each other (`lane`). */
const aside = (times: number): ExpressionSpecification =>
  ["interpolate", ["linear"], ["zoom"], 9, ["*", times, ["+", 2, ["*", 3, ["get", "lane"]]]], 16, ["*", times, ["+", 5, ["*", 7, ["get", "lane"]]]]] as unknown as ExpressionSpecification;

const ofLeg = (leg: string): FilterSpecification => ["all", ["==", ["get", "layer"], "leg"], ["==", ["get", "leg"], leg]];

/** The lines of an option, from the source of that name. */
export function legs(): LayerSpecification[] {
  const line = (id: string, filter: FilterSpecification, paint: object): LayerSpecification =>
    ({ id, type: "line", source: "option", filter, layout: { "line-join": "round" }, paint } as LayerSpecification);
  return [
    line("leg-halo", ["==", ["get", "layer"], "leg"], { "line-color": c.road, "line-width": grow(9, 5.5, 16, 12), "line-offset": aside(1), "line-opacity": 0.85 }),
    line("leg-empty", ofLeg("empty"), { "line-color": c.empty, "line-width": grow(9, 2.6, 16, 6), "line-offset": aside(1), "line-dasharray": [2.2, 1.1] }),
    line("leg-loaded", ofLeg("loaded"), { "line-color": c.loaded, "line-width": grow(9, 3.6, 16, 8), "line-offset": aside(1) }),
    line("supply-halo", ["==", ["get", "layer"], "supply_line"], { "line-color": c.road, "line-width": 7 * scale() }),
    line("supply", ["==", ["get", "layer"], "supply_line"], { "line-color": c.supply, "line-width": 4 * scale(), "line-dasharray": [0.7, 0.5] }),
    ...["loaded", "empty"].map((leg): LayerSpecification => ({
      id: `arrow-${leg}`, type: "symbol", source: "option", filter: ofLeg(leg),
      layout: {
        "symbol-placement": "line", "symbol-spacing": 110, "icon-image": `arrow-${leg}`, "icon-rotation-alignment": "map",
        "icon-allow-overlap": true, "icon-ignore-placement": true, "icon-size": grow(9, 0.75, 16, 1.3),
        "icon-offset": ["match", ["get", "lane"], 0, ["literal", [0, 4]], 1, ["literal", [0, 9]], ["literal", [0, 14]]] as unknown as ExpressionSpecification,
      },
    })),
  ];
}

function labels(): LayerSpecification[] {
  const along = (id: string, of: string[], size: number, from: number): LayerSpecification => ({
    id, type: "symbol", source: "roads", minzoom: from, filter: ["all", kinds(of), ["!=", ["get", "name"], ""]] as FilterSpecification,
    layout: { "symbol-placement": "line", "text-field": ["get", "name"], "text-font": FONT, "text-size": size * scale(), "symbol-spacing": 350, "text-max-angle": 35, "text-padding": 4 },
    paint: { "text-color": c.roadName, "text-halo-color": c.road, "text-halo-width": 1.6 },
  });
  return [
    {
      id: "course-names", type: "symbol", source: "courses", minzoom: 11, filter: ["!=", ["get", "name"], ""],
      layout: { "symbol-placement": "line", "text-field": ["get", "name"], "text-font": FONT, "text-size": 12 * scale(), "symbol-spacing": 500 },
      paint: { "text-color": c.waterName, "text-halo-color": c.land, "text-halo-width": 1.5 },
    },
    {
      id: "area-names", type: "symbol", source: "areas", minzoom: 11, filter: ["all", ["==", ["get", "kind"], "water"], ["!=", ["get", "name"], ""]],
      layout: { "text-field": ["get", "name"], "text-font": FONT, "text-size": 13 * scale(), "text-max-width": 7 },
      paint: { "text-color": c.waterName, "text-halo-color": c.water, "text-halo-width": 1.2 },
    },
    along("small-names", [...SMALL, "service", "track"], 12, 13),
    along("middle-names", MIDDLE, 12, 12),
    along("main-names", MAIN, 13, 10.5),
    {
      id: "settlement-names", type: "symbol", source: "settlements",
      layout: {
        "text-field": ["get", "name"], "text-font": FONT, "text-letter-spacing": 0.06,
        "text-size": ["match", ["get", "kind"], "town", 17 * scale(), 14 * scale()],
      },
      paint: { "text-color": c.ink, "text-halo-color": c.land, "text-halo-width": 2 },
    },
  ];
}

/** The background, and what the page has of its own: under the names and above them. */
export function mapStyle(backdrop: Backdrop, sources: Record<string, SourceSpecification>, under: LayerSpecification[], above: LayerSpecification[]): StyleSpecification {
  const data = asGeoJson(backdrop);
  const source = (collection: GeoJSON.FeatureCollection) => ({ type: "geojson" as const, data: collection, maxzoom: 14, tolerance: 0.3 });
  return {
    version: 8,
    sources: {
      roads: source(data.roads), areas: source(data.areas), courses: source(data.courses), settlements: source(data.settlements),
      ...sources,
    },
    layers: [
      { id: "land", type: "background", paint: { "background-color": c.land } },
      { id: "wood", type: "fill", source: "areas", filter: kinds(["wood"]), paint: { "fill-color": c.wood } },
      { id: "water", type: "fill", source: "areas", filter: kinds(["water"]), paint: { "fill-color": c.water, "fill-outline-color": c.shore } },
      { id: "coast", type: "line", source: "courses", filter: kinds(["coast"]), paint: { "line-color": c.shore, "line-width": 2 } },
      { id: "streams", type: "line", source: "courses", filter: kinds(["stream"]), paint: { "line-color": c.shore, "line-width": grow(9, 0.6, 16, 3) } },
      { id: "rivers", type: "line", source: "courses", filter: kinds(["river"]), layout: { "line-cap": "round", "line-join": "round" }, paint: { "line-color": c.shore, "line-width": grow(9, 1.8, 16, 10) } },
      ...roads(),
      ...under,
      ...labels(),
      ...above,
    ],
  };
}

/** An arrow that points the way the line runs: filled for loaded, open for empty. */
export function arrow(loaded: boolean): { width: number; height: number; data: Uint8ClampedArray } {
  const size = 36;
  const canvas = document.createElement("canvas");
  canvas.width = canvas.height = size;
  const pen = canvas.getContext("2d");
  if (!pen) return { width: 1, height: 1, data: new Uint8ClampedArray(4) };
  pen.beginPath();
  pen.moveTo(8, 6);
  pen.lineTo(31, 18);
  pen.lineTo(8, 30);
  pen.lineTo(13, 18);
  pen.closePath();
  pen.lineJoin = "round";
  pen.strokeStyle = c.road;
  pen.lineWidth = 8;
  pen.stroke();
  pen.fillStyle = loaded ? c.loaded : c.road;
  pen.fill();
  pen.strokeStyle = loaded ? c.loaded : c.empty;
  pen.lineWidth = 3.2;
  pen.stroke();
  return { width: size, height: size, data: pen.getImageData(0, 0, size, size).data };
}
