// The zone as a plain picture: printed, and shown until the map is ready.

import type { Backdrop } from "./backdrop";
import { colours as c } from "./palette";
import { CORE } from "./signs";
import { Picture } from "./sketch";
import { bbox, gapAreas, gaps, lines, proposals, sites } from "./zone";
import type { View } from "./zoneviews";

/** Of many fill sites the used ones are drawn, these at most. */
const MOST_SIGNS = 40;

export function zoneSketch(view: View, shown: readonly number[], gapsOn: boolean, backdrop: Backdrop): SVGSVGElement {
  const box = bbox ?? [0, 0, 1, 1];
  const picture = new Picture([[box[0], box[1]], [box[2], box[3]]], "Drawing of the zone: its roads by flow class; the tables tell the same", backdrop);
  if (gapsOn) {
    picture.joined(gaps.flatMap((_, i) => gapAreas[i] ?? []).flat(), { fill: c.short, "fill-opacity": 0.09, "fill-rule": "evenodd", stroke: c.short, "stroke-width": 0.8, "stroke-dasharray": "4 2.5" });
  }
  const by = view.classes.map((_, k) => shown.filter((i) => view.classOf(i) === k).map((i) => lines[i] ?? []));
  // Small on paper: half of the width on the map.
  for (const [k, { style }] of [...view.classes.entries()].reverse()) {
    const of = by[k] ?? [];
    const width = style.width * 0.55;
    picture.joined(of, {
      stroke: c[style.colour], "stroke-width": width, "stroke-linecap": "butt",
      ...(style.dash ? { "stroke-dasharray": style.dash.map((d) => (d * width).toFixed(1)).join(" ") } : {}),
    });
    if (style.core) picture.joined(of, { stroke: c.road, "stroke-width": width * CORE });
  }
  for (const site of sites.filter((x) => x.used).slice(0, MOST_SIGNS)) picture.put("fill", site.at, { name: site.name });
  for (const p of proposals.slice(0, MOST_SIGNS)) picture.put("proposal", p.at, { name: p.name, letter: String(p.rank) });
  return picture.svg;
}
