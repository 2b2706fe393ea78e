// A plain vector picture of the map: for the printer, for a browser without WebGL, and the first thing
// to be seen while the map is being made ready.

import type { Backdrop, Line } from "./backdrop";
import { answer, layer, ofOption, packed, positions } from "./data";
import type { Position } from "./data";
import { s } from "./dom";
import { colours as c } from "./palette";
import { sign } from "./signs";
import type { Sign } from "./signs";

const WIDE = 1000;
const HIGH = 700;
const MARGIN = 50;
const MAIN = new Set(["motorway", "trunk", "primary", "secondary", "tertiary"]);

/** Mercator, as the map has it. */
function mercator([lon, lat]: Position): Position {
  const y = Math.log(Math.tan(Math.PI / 4 + (lat * Math.PI) / 360));
  return [(lon * Math.PI) / 180, -y];
}

/** The background, fitted around places, and what to draw on it with. */
export class Picture {
  readonly svg: SVGSVGElement;
  readonly at: (place: Position) => Position;

  constructor(around: Position[], label: string, backdrop: Backdrop) {
    let [left, right, top, bottom] = [Infinity, -Infinity, Infinity, -Infinity];
    for (const [x, y] of around.map(mercator)) {
      [left, right, top, bottom] = [Math.min(left, x), Math.max(right, x), Math.min(top, y), Math.max(bottom, y)];
    }
    const scale = Math.min((WIDE - 2 * MARGIN) / (right - left || 1e-6), (HIGH - 2 * MARGIN) / (bottom - top || 1e-6));
    this.at = (place) => {
      const [x, y] = mercator(place);
      return [WIDE / 2 + (x - (left + right) / 2) * scale, HIGH / 2 + (y - (top + bottom) / 2) * scale];
    };
    this.svg = s("svg", { viewBox: `0 0 ${WIDE} ${HIGH}`, class: "sketch", role: "img", "aria-label": label });
    this.svg.append(s("rect", { width: WIDE, height: HIGH, fill: c.land }));
    this.joined(backdrop.areas.filter((a) => a.kind === "water").flatMap((a) => a.rings), { fill: c.water, stroke: c.shore, "fill-rule": "evenodd" });
    this.joined(backdrop.courses.map((x) => x.line), { stroke: c.shore, "stroke-width": 1.5 });
    this.joined(backdrop.roads.filter((r) => !MAIN.has(r.kind)).map((r) => r.line), { stroke: c.roadEdge, "stroke-width": 1.2 });
    this.joined(backdrop.roads.filter((r) => MAIN.has(r.kind)).map((r) => r.line), { stroke: c.mainEdge, "stroke-width": 2.4 });
  }

  /** All lines that come near the picture as one path. */
  joined(lines: Line[], attributes: Record<string, string | number>): void {
    const near = ([x, y]: Position): boolean => x > -WIDE / 4 && x < WIDE * 1.25 && y > -HIGH / 4 && y < HIGH * 1.25;
    const d = lines.map((line) => line.map(this.at)).filter((line) => line.some(near)).map(drawn).join("");
    if (d) this.svg.append(s("path", { d, fill: "none", "stroke-linejoin": "round", "stroke-linecap": "round", ...attributes }));
  }

  put(kind: Sign, place: Position, { name = "", letter = "" } = {}): void {
    const [x, y] = this.at(place);
    const picture = sign(kind, letter);
    for (const [key, value] of Object.entries({ x: x - 14, y: y - 14, width: 28, height: 28 })) picture.setAttribute(key, String(value));
    this.svg.append(picture);
    const left = x > WIDE * 0.75;
    if (name) this.svg.append(s("text", { x: left ? x - 18 : x + 18, y: y + 6, "text-anchor": left ? "end" : "start", "font-size": 17, "font-weight": 600, fill: c.ink, stroke: c.land, "stroke-width": 4, "paint-order": "stroke" }, name.length > 40 ? `${name.slice(0, 39)}…` : name));
  }
}

const drawn = (line: Position[]): string => line.map(([x, y], i) => `${i ? "L" : "M"}${x.toFixed(1)} ${y.toFixed(1)}`).join("");

export function sketch(option: number, backdrop: Backdrop): SVGSVGElement {
  const legs = ofOption("leg", option);
  const supply = ofOption("supply_line", option);
  const places = [...ofOption("dump_site", option), ...ofOption("staging", option), ...layer("incident")];
  const shown = [...legs, ...supply, ...places].flatMap((f) => positions(f.geometry.coordinates));
  const box = (answer.bbox ?? packed?.bbox ?? [0, 0, 1, 1]);
  const picture = new Picture(shown.length > 1 ? shown : [[box[0], box[1]], [box[2], box[3]]],
    `Drawing of option ${option}: roads, loops and sites; the tables tell the same`, backdrop);
  const { svg, at } = picture;
  for (const leg of ["empty", "loaded"] as const) {
    const lines = legs.filter((f) => f.properties.leg === leg).map((f) => aside(positions(f.geometry.coordinates).map(at), 5));
    const d = lines.map(drawn).join("");
    const line = (attributes: Record<string, string | number>): void => { svg.append(s("path", { d, fill: "none", "stroke-linejoin": "round", ...attributes })); };
    line({ stroke: c.road, "stroke-width": leg === "loaded" ? 9 : 6 });
    line(leg === "loaded" ? { stroke: c.loaded, "stroke-width": 6 } : { stroke: c.empty, "stroke-width": 4, "stroke-dasharray": "9 5" });
    for (const points of lines) arrows(points, leg === "loaded", svg);
  }
  picture.joined(supply.map((f) => positions(f.geometry.coordinates)), { stroke: c.supply, "stroke-width": 4, "stroke-dasharray": "2 5" });
  const used = new Set(ofOption("loop", option).map((f) => f.properties.fill_site));
  for (const f of layer("fill_site").filter((x) => !used.has(x.properties.name))) picture.put("unused", f.geometry.coordinates as Position);
  // By the numbers that the list of notes has.
  ofOption("road_note", option).forEach((f, i) => picture.put("note", f.geometry.coordinates as Position, { letter: String(i + 1) }));
  for (const f of ofOption("staging", option)) picture.put("staging", f.geometry.coordinates as Position);
  for (const f of layer("fill_site").filter((x) => used.has(x.properties.name))) picture.put("fill", f.geometry.coordinates as Position, { name: f.properties.name });
  for (const f of ofOption("dump_site", option)) picture.put("dump", f.geometry.coordinates as Position);
  for (const f of layer("incident")) picture.put("incident", f.geometry.coordinates as Position);
  return svg;
}

/** Moved to the right of the way it runs, so that a road driven both ways shows both. */
function aside(line: Position[], by: number): Position[] {
  return line.map(([x, y], i) => {
    const before = line[Math.max(0, i - 1)] ?? [x, y];
    const after = line[Math.min(line.length - 1, i + 1)] ?? [x, y];
    const [dx, dy] = [after[0] - before[0], after[1] - before[1]];
    const length = Math.hypot(dx, dy) || 1;
    return [x - (dy / length) * by, y + (dx / length) * by];
  });
}

/** An arrow every so often along a line of the picture. */
function arrows(line: Position[], loaded: boolean, svg: SVGSVGElement): void {
  const every = 120;
  let rest = every / 2;
  for (let i = 0; i + 1 < line.length; i++) {
    const [a, b] = [line[i], line[i + 1]];
    if (!a || !b) continue;
    const [dx, dy] = [b[0] - a[0], b[1] - a[1]];
    const length = Math.hypot(dx, dy);
    for (; rest <= length && length > 0; rest += every) {
      const [x, y] = [a[0] + (dx * rest) / length, a[1] + (dy * rest) / length];
      const turn = (Math.atan2(dy, dx) * 180) / Math.PI;
      svg.append(s("path", {
        d: "M-8 -8 L9 0 L-8 8 L-4 0 Z", transform: `translate(${x.toFixed(1)} ${y.toFixed(1)}) rotate(${turn.toFixed(1)})`,
        fill: loaded ? c.loaded : c.road, stroke: loaded ? c.road : c.empty, "stroke-width": 1.8,
      }));
    }
    rest -= length;
  }
}
