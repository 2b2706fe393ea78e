// The map of a zone: its stretches by class, the gaps around them, fill sites and proposals.

import type { ExpressionSpecification, FilterSpecification, GeoJSONSource, LayerSpecification } from "maplibre-gl";
import { asCollection } from "./backdrop";
import type { Backdrop } from "./backdrop";
import { Engine } from "./engine";
import type { Tell } from "./engine";
import { FONT, grow, scale } from "./mapstyle";
import { colours as c } from "./palette";
import { CORE } from "./signs";
import { bbox, gapAreas, gaps, lines, proposals, sites } from "./zone";
import { toldGap, toldProposal, toldSite, toldStretch } from "./zonetold";
import type { Style, View } from "./zoneviews";
import { miles } from "./units";
import { gapPlace } from "./zoneplace";

/** More signs than these make a page slow and a map unreadable: the others are small dots. */
const MOST_SIGNS = 40;
const NAMES_FROM = 12;
/** As many classes as any view has. */
const CLASSES = 6;

const wide = (width: number): ExpressionSpecification => grow(9, width * 0.45, 13, width * 0.8, 17, width * 1.9);

function stretchLayers(): LayerSpecification[] {
  const line = (id: string, filter: unknown, paint: object): LayerSpecification =>
    ({ id, type: "line", source: "stretches", filter, layout: { "line-join": "round", visibility: "visible" }, paint } as LayerSpecification);
  const each = Array.from({ length: CLASSES }, (_, k) => k);
  return [
    line("stretch-halo", ["!=", ["get", "chosen"], true], { "line-color": c.road, "line-width": wide(8), "line-opacity": 0.8 }),
    line("chosen-halo", ["get", "chosen"], { "line-color": c.ink, "line-width": wide(15) }),
    line("chosen-inner", ["get", "chosen"], { "line-color": c.road, "line-width": wide(11) }),
    // What has least flow lies on top.
    ...each.reverse().flatMap((k) => [
      line(`class-${k}`, ["==", ["get", "class"], k], { "line-color": c.flow2, "line-width": wide(3) }),
      line(`core-${k}`, ["==", ["get", "class"], k], { "line-color": c.road, "line-width": 1 }),
    ]),
  ];
}

const gapLayers: LayerSpecification[] = [
  { id: "gap", type: "fill", source: "gaps", paint: { "fill-color": c.short, "fill-opacity": 0.09 } },
  { id: "gap-edge", type: "line", source: "gaps", paint: { "line-color": c.short, "line-width": 1.4, "line-dasharray": [4, 2.5] } },
];

export class ZoneMap {
  readonly engine: Engine;
  private ready = false;
  private view: View | null = null;
  private shown: readonly number[] = [];
  private chosen: number | null = null;
  private gapsOn = true;

  constructor(container: HTMLElement, backdrop: Backdrop, tell: Tell, private readonly choose: (stretch: number) => void) {
    const empty = { type: "geojson" as const, data: asCollection([]) };
    this.engine = new Engine(container, backdrop, bbox, {
      sources: { stretches: { ...empty, maxzoom: 15, tolerance: 0.25 }, gaps: empty, marks: empty, dots: empty },
      under: [...gapLayers, ...stretchLayers()],
      above: [
        { id: "dots", type: "circle", source: "dots", paint: { "circle-color": c.paper, "circle-stroke-color": c.edge, "circle-stroke-width": 2, "circle-radius": 4 * scale() } },
        {
          id: "gap-names", type: "symbol", source: "marks",
          // The worst first; the others as there is room for them.
          filter: ["<=", ["get", "gap"], ["step", ["zoom"], 8, 11.5, 20, 12.5, 60, 13.5, 100_000]] as unknown as FilterSpecification,
          layout: { "text-field": ["get", "name"], "text-font": FONT, "text-size": 13 * scale(), "symbol-sort-key": ["get", "gap"], "text-padding": 8, "text-variable-anchor": ["left", "right", "top", "bottom"], "text-radial-offset": 0.7 },
          paint: { "text-color": c.short, "text-halo-color": c.paper, "text-halo-width": 2 },
        },
      ],
      on: ["gap-names", "dots", ...Array.from({ length: CLASSES }, (_, k) => `class-${k}`), "gap"],
      told: (properties, pin) => {
        const i = Number(properties["i"]);
        if (properties["of"] === "gap") return gaps[i] ? toldGap(gaps[i]) : null;
        if (properties["of"] === "site") return sites[i] ? toldSite(sites[i]) : null;
        if (pin) this.choose(i);
        return toldStretch(i);
      },
      title: "Map of the zone's roads. Arrow keys move it, plus and minus zoom. The list of stretches tells the same.",
    }, tell);
    this.engine.map.on("load", () => {
      this.ready = true;
      this.outline();
      this.draw();
    });
    this.signs();
    // Names of sites cover the roads where the whole zone is seen.
    const near = (): void => { container.classList.toggle("near", this.engine.map.getZoom() >= NAMES_FROM); };
    this.engine.map.on("zoom", near);
    near();
  }

  show(view: View, shown: readonly number[], gapsOn: boolean, chosen: number | null): void {
    const outlined = gapsOn !== this.gapsOn;
    [this.view, this.shown, this.gapsOn, this.chosen] = [view, shown, gapsOn, chosen];
    if (outlined) this.outline();
    this.draw();
  }

  units(): void {
    this.engine.units();
    this.outline();
  }

  private source(name: string): GeoJSONSource | undefined { return this.engine.map.getSource<GeoJSONSource>(name); }

  private draw(): void {
    const { view, chosen } = this;
    if (!this.ready || !view) return;
    const { map } = this.engine;
    for (let k = 0; k < CLASSES; k++) this.style(k, view.classes[k]?.style);
    // A line needs two ends.
    const whole = this.shown.filter((i) => (lines[i] ?? []).length > 1);
    this.source("stretches")?.setData(asCollection(whole.map((i) => ({
      type: "Feature", properties: { i, class: view.classOf(i), chosen: i === chosen }, geometry: { type: "LineString", coordinates: lines[i] ?? [] },
    }))));
    map.triggerRepaint();
  }

  private style(k: number, style: Style | undefined): void {
    const { map } = this.engine;
    const [line, core] = [`class-${k}`, `core-${k}`];
    map.setLayoutProperty(line, "visibility", style ? "visible" : "none");
    map.setLayoutProperty(core, "visibility", style?.core ? "visible" : "none");
    if (!style) return;
    map.setPaintProperty(line, "line-color", c[style.colour]);
    map.setPaintProperty(line, "line-width", wide(style.width));
    map.setPaintProperty(line, "line-dasharray", style.dash ? [...style.dash] : undefined);
    map.setPaintProperty(core, "line-width", wide(style.width * CORE));
  }

  private outline(): void {
    if (!this.ready) return;
    const on = this.gapsOn ? gaps.map((_, i) => i) : [];
    this.source("gaps")?.setData(asCollection(on.map((i) => ({
      type: "Feature", properties: { of: "gap", i },
      geometry: { type: "MultiPolygon", coordinates: (gapAreas[i] ?? []).map((rings) => rings.filter((ring) => ring.length > 3)).filter((rings) => rings.length > 0) },
    }))));
    this.source("marks")?.setData(asCollection(on.flatMap((i): GeoJSON.Feature[] => {
      const [gap, at] = [gaps[i], gapPlace(i)];
      return gap && at ? [{ type: "Feature", properties: { of: "gap", i, gap: gap.gap, name: `Gap ${gap.gap}: ${miles(gap.road_m)}` }, geometry: { type: "Point", coordinates: at } }] : [];
    })));
  }

  private signs(): void {
    const rank = sites.map((site, i) => ({ site, i })).sort((a, b) => Number(b.site.used) - Number(a.site.used));
    const signed = rank.slice(0, MOST_SIGNS);
    for (const { site } of signed.reverse()) {
      this.engine.sign(site.used ? "fill" : "unused", site.at, () => toldSite(site), { label: site.used ? site.name : "" });
    }
    for (const p of proposals.slice(0, MOST_SIGNS)) this.engine.sign("proposal", p.at, () => toldProposal(p), { letter: String(p.rank), label: p.name });
    this.engine.map.on("load", () => this.source("dots")?.setData(asCollection(rank.slice(MOST_SIGNS).map(({ site, i }) => ({
      type: "Feature", properties: { of: "site", i }, geometry: { type: "Point", coordinates: site.at },
    })))));
  }
}
