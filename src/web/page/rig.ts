// The dump rig as a drawing: tanks in a row beside the road, tankers at the berths, siphons between the tanks,
// the pumper that drafts from the first one, and the supply line to the fire. Not to scale.

import { about, ofOption } from "./data";
import { h, s } from "./dom";
import { colours as c } from "./palette";
import { flow, length, volume } from "./units";

const TANK = 118;
const GAP = 34;
const LEFT = 176;

export function rig(option: number): HTMLElement | null {
  const dump = ofOption("dump_site", option)[0]?.properties;
  const supply = ofOption("supply_line", option)[0]?.properties;
  const tanks = about.tanks_gal;
  if (!dump || tanks.length === 0) return null;
  const wide = Math.max(420, LEFT + tanks.length * (TANK + GAP) + 10);
  const text = (x: number, y: number, body: string, size = 14, anchor = "middle", fill: string = c.ink): SVGTextElement =>
    s("text", { x, y, "font-size": size, "text-anchor": anchor, fill }, body);
  const parts: SVGElement[] = [];
  // The road, with its berths.
  parts.push(s("rect", { x: 0, y: 150, width: wide, height: 62, fill: c.sheet, stroke: c.edge }));
  parts.push(s("path", { d: `M0 181 H${wide}`, stroke: c.edge, "stroke-width": 2, "stroke-dasharray": "14 10" }));
  tanks.forEach((volumeGal, i) => {
    const x = LEFT + i * (TANK + GAP);
    parts.push(s("path", { d: `M${x + 12} 60 H${x + TANK - 12} L${x + TANK} 72 V128 L${x + TANK - 12} 140 H${x + 12} L${x} 128 V72 Z`, fill: c.water, stroke: c.ink, "stroke-width": 2 }));
    parts.push(text(x + TANK / 2, 88, `tank ${i + 1}`), text(x + TANK / 2, 106, volume(volumeGal)));
    if (i > 0) {
      const siphon = i <= about.siphons;
      const [from, to] = [x + 16, x - GAP - 16];
      parts.push(s("path", { d: `M${from} 124 C${from} 44 ${to} 44 ${to} 124`, fill: "none", stroke: siphon ? c.empty : c.edge, "stroke-width": siphon ? 6 : 2, "stroke-dasharray": siphon ? undefined : "3 4" }));
      parts.push(text(x - GAP / 2, 52, siphon ? `siphon ${i}` : "no siphon", 13, "middle", siphon ? c.empty : c.muted));
    }
    if (i < dump.dump_berths) {
      parts.push(s("rect", { x: x + 14, y: 154, width: TANK - 28, height: 24, rx: 4, fill: c.loaded }));
      parts.push(text(x + TANK / 2, 171, "dumps", 13, "middle", c.paper));
      parts.push(s("path", { d: `M${x + TANK / 2} 154 V142`, stroke: c.loaded, "stroke-width": 5 }));
    }
  });
  parts.push(text(wide - 8, 204, "clear lane", 13, "end", c.muted));
  // Pumper and lines.
  parts.push(s("rect", { x: 66, y: 74, width: 80, height: 40, rx: 5, fill: c.ink }), text(106, 99, "pumper", 14, "middle", c.paper));
  parts.push(s("path", { d: `M146 94 C160 94 158 60 ${LEFT + 8} 66 V116`, fill: "none", stroke: c.ink, "stroke-width": 6 }));
  for (let i = 0; i < (supply?.lines ?? 1); i++) parts.push(s("path", { d: `M66 ${88 + i * 12} H4`, stroke: c.supply, "stroke-width": 5, "stroke-dasharray": "8 5" }));
  parts.push(text(4, 66, "to the fire", 13, "start", c.supply));
  const line = supply ? `${supply.lines} × ${supply.hose_in}-inch supply line, carries ${flow(supply.flow_gpm)}` : "";
  const row = `row of tanks ${length(dump.tank_row_length_m)}, straight road ${length(dump.straight_road_m)}`;
  const width = dump.road_width_m === null ? "road width not mapped" : `road ${length(dump.road_width_m)} wide`;
  const caption = `${volume(dump.tank_room_gal)} in ${tanks.length} ${tanks.length === 1 ? "tank" : "tanks"}; ${dump.dump_berths} ${dump.dump_berths === 1 ? "tanker dumps" : "tankers dump"} at a time; ${line}; ${row}; ${width}; room is ${dump.space}. Not to scale.`;
  return h("figure", { class: "rig" },
    s("svg", { viewBox: `0 0 ${wide} 216`, role: "img", "aria-label": `Dump rig: ${caption}` }, ...parts),
    h("figcaption", {}, caption));
}
