// The signs of places: a shape and a letter each, so that they are told apart without colour.

import { s } from "./dom";
import { colours as c } from "./palette";
import type { Style } from "./zoneviews";

export type Sign = "incident" | "dump" | "fill" | "unused" | "staging" | "note" | "proposal";

export const signNames: Record<Sign, string> = {
  incident: "Incident", dump: "Dump site", fill: "Fill site", unused: "Fill site not used", staging: "Tankers wait here", note: "Note on the road",
  proposal: "Proposed fill site",
};

/** A drawing 32 units wide and high. */
export function sign(kind: Sign, letter = ""): SVGSVGElement {
  const text = (body: string, fill: string, y = 21): SVGTextElement =>
    s("text", { x: 16, y, "text-anchor": "middle", "font-size": 14, "font-weight": 700, fill }, body);
  const line = { stroke: c.paper, "stroke-width": 2, "stroke-linejoin": "round" };
  const parts: Record<Sign, () => SVGElement[]> = {
    incident: () => [
      s("path", { d: "M16 1 L31 16 L16 31 L1 16 Z", fill: c.short, ...line }),
      s("path", { d: "M16 6c1 4 6 6 6 12a6 6 0 0 1-12 0c0-3 2-4 2-7 2 1 3 2 3 4 1-2 2-5 1-9z", fill: c.paper }),
    ],
    dump: () => [s("rect", { x: 2, y: 2, width: 28, height: 28, rx: 2, fill: c.ink, ...line }), text("D", c.paper)],
    fill: () => [s("circle", { cx: 16, cy: 16, r: 14, fill: c.empty, ...line }), text("F", c.paper)],
    unused: () => [s("circle", { cx: 16, cy: 16, r: 9, fill: c.paper, stroke: c.edge, "stroke-width": 2.5 }), s("path", { d: "M10 22 L22 10", stroke: c.edge, "stroke-width": 2.5 })],
    staging: () => [s("path", { d: "M9 2 H23 L30 9 V23 L23 30 H9 L2 23 V9 Z", fill: c.supply, ...line }), text("W", c.paper)],
    proposal: () => [
      s("circle", { cx: 16, cy: 16, r: 14, fill: c.paper, stroke: c.met, "stroke-width": 3, "stroke-dasharray": "5 3" }), text(letter || "+", c.met),
    ],
    note: () => [s("path", { d: "M16 2 L31 29 H1 Z", fill: c.cautionTint, stroke: c.caution, "stroke-width": 2.5, "stroke-linejoin": "round" }), text(letter || "!", c.caution, 26)],
  };
  return s("svg", { viewBox: "0 0 32 32", width: 32, height: 32, "aria-hidden": "true", focusable: "false" }, ...parts[kind]());
}

/** A piece of a line as the map draws it. */
export function lineSwatch({ colour, width, dash, core }: Style): SVGSVGElement {
  const line = (stroke: string, wide: number): SVGPathElement =>
    s("path", { d: "M1 8 H47", stroke, "stroke-width": wide, "stroke-dasharray": dash?.map((d) => d * width).join(" "), fill: "none" });
  return s("svg", { viewBox: "0 0 48 16", width: 48, height: 16, "aria-hidden": "true", focusable: "false" },
    line(c[colour], width), core ? line(c.road, width * CORE) : null);
}
/** Width of a line's core, as a share of the line's. */
export const CORE = 0.34;

/** Swatches of the lines, for the legend. */
export function swatch(kind: "loaded" | "empty" | "supply"): SVGSVGElement {
  const colour = c[kind];
  const line = s("path", {
    d: "M1 8 H47", stroke: colour, "stroke-width": kind === "loaded" ? 5 : 4,
    "stroke-dasharray": kind === "empty" ? "8 4" : kind === "supply" ? "3 2" : undefined, fill: "none",
  });
  const head = s("path", {
    d: "M20 2 L33 8 L20 14 L23 8 Z", fill: kind === "empty" ? c.paper : colour, stroke: colour, "stroke-width": 1.6, "stroke-linejoin": "round",
  });
  return s("svg", { viewBox: "0 0 48 16", width: 48, height: 16, "aria-hidden": "true", focusable: "false" }, line, kind === "supply" ? null : head);
}
