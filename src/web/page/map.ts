// The map of an answer: one option at a time on the background.

import { LngLatBounds } from "maplibre-gl";
import type { GeoJSONSource, Marker } from "maplibre-gl";
import type { Backdrop } from "./backdrop";
import { answer, layer, ofOption, packed, positions } from "./data";
import type { Feature, FillSite, Position, Properties } from "./data";
import { Engine } from "./engine";
import type { Box, Own, Tell } from "./engine";
import { arrow, legs, scale } from "./mapstyle";
import type { Sign } from "./signs";
import { told, toldOf } from "./told";
import type { Told } from "./told";

export class MapView {
  readonly engine: Engine;
  private markers: Marker[] = [];
  private option = 0;
  /** What is drawn with is there. */
  private ready = false;

  /** `more` is drawn above the background too, below the loops. */
  constructor(container: HTMLElement, backdrop: Backdrop, tell: Tell, more: Pick<Own, "sources" | "under"> = { sources: {}, under: [] }, box?: Box) {
    this.engine = new Engine(container, backdrop, box ?? answer.bbox ?? packed?.bbox, {
      sources: { ...more.sources, option: { type: "geojson", data: { type: "FeatureCollection", features: [] }, maxzoom: 16, tolerance: 0.2 } },
      under: more.under, above: legs(), on: ["leg-loaded", "leg-empty", "supply"],
      told: (properties) => this.told(properties),
      title: "Map of the shuttle. Arrow keys move it, plus and minus zoom.",
    }, tell);
    this.engine.map.on("load", () => {
      this.engine.map.addImage("arrow-loaded", arrow(true), { pixelRatio: 2 });
      this.engine.map.addImage("arrow-empty", arrow(false), { pixelRatio: 2 });
      this.ready = true;
      this.draw();
    });
  }

  show(option: number, fit = true): void {
    this.option = option;
    this.engine.unpin();
    if (this.ready) this.draw();
    this.mark();
    if (fit) this.fit();
  }

  units(): void {
    this.engine.units();
    this.mark();
  }

  private draw(): void {
    const source = this.engine.map.getSource<GeoJSONSource>("option");
    if (!source) return;
    const lanes = [...new Set(ofOption("loop", this.option).map((f) => f.properties.fill_site))];
    const legs = ofOption("leg", this.option).map((f, id) => ({
      ...f, id: id + 1, properties: { layer: "leg", leg: f.properties.leg, lane: Math.max(0, lanes.indexOf(f.properties.fill_site)), index: id },
    }));
    const supply = ofOption("supply_line", this.option).map((f) => ({ ...f, properties: { layer: "supply_line", index: 0 } }));
    source.setData({ type: "FeatureCollection", features: [...legs, ...supply] as GeoJSON.Feature[] });
  }

  private fit(): void {
    const here = (["leg", "supply_line", "dump_site", "staging"] as const).flatMap((name) => ofOption(name, this.option));
    const incident = layer("incident").map((f) => f.geometry.coordinates as Position);
    const all = [...here.flatMap((f) => positions(f.geometry.coordinates)), ...incident];
    if (all.length === 0) return;
    const bounds = all.reduce((box, at) => box.extend(at), new LngLatBounds());
    const { clientWidth: wide, clientHeight: high } = this.engine.map.getContainer();
    // Room for the signs, and for their names below and beside them.
    const side = Math.max(70, Math.min(90, wide / 9));
    // Beside the buttons for zooming, which would hide a name; a phone has no room for that.
    const buttons = wide > 480 ? 45 * scale() : 0;
    const padding = { left: side, right: side + buttons, top: 40, bottom: Math.max(40, Math.min(70, high / 9)) };
    this.engine.map.fitBounds(bounds, { padding, duration: 0, maxZoom: 16 });
  }

  private mark(): void {
    for (const marker of this.markers) marker.remove();
    const used = new Set(ofOption("loop", this.option).map((f) => f.properties.fill_site));
    const sites = layer("fill_site");
    const serves = (f: Feature<FillSite>): boolean => used.has(f.properties.name);
    this.markers = [
      ...sites.filter((f) => !serves(f)).map((f) => this.marker("unused", f)),
      ...ofOption("road_note", this.option).map((f, i) => this.marker("note", f, String(i + 1))),
      ...ofOption("staging", this.option).map((f) => this.marker("staging", f)),
      ...sites.filter(serves).map((f) => this.marker("fill", f)),
      ...ofOption("dump_site", this.option).map((f) => this.marker("dump", f)),
      ...layer("incident").map((f) => this.marker("incident", f)),
    ];
  }

  private marker(kind: Sign, feature: Feature<Properties>, letter = ""): Marker {
    const label = kind === "fill" ? (feature.properties as FillSite).name : "";
    return this.engine.sign(kind, feature.geometry.coordinates as Position, () => toldOf(feature), { letter, label });
  }

  private told(properties: Record<string, unknown>): Told | null {
    const of = properties["layer"] === "leg" ? ofOption("leg", this.option) : ofOption("supply_line", this.option);
    const feature = of[Number(properties["index"])];
    return feature ? told(feature.properties) : null;
  }
}
