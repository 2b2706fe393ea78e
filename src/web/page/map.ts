// The map: the background once, and one option at a time on it.

import { LngLatBounds, Map as EngineMap, Marker, NavigationControl, ScaleControl } from "maplibre-gl";
import type { GeoJSONSource, MapMouseEvent } from "maplibre-gl";
import type { Backdrop } from "./backdrop";
import { about, answer, layer, ofOption, packed, positions } from "./data";
import type { Feature, FillSite, Position, Properties } from "./data";
import { h } from "./dom";
import { arrow, mapStyle } from "./mapstyle";
import { sign, signNames } from "./signs";
import type { Sign } from "./signs";
import { told, toldOf } from "./told";
import type { Told } from "./told";
import { getSystem } from "./units";
import { startWorkers } from "./worker";

const ON_TOP = ["leg-loaded", "leg-empty", "supply"];
const BELOW = ["main", "middle", "small", "service", "tracks", "rivers", "streams", "water"];
/** So far from a line a pointer still means it, in pixels. */
const REACH = 7;
/** Incident and dump site may lie a hose length apart: each points at its place with a corner of its own. */
const anchors: Partial<Record<Sign, "bottom" | "top-right">> = { incident: "bottom", dump: "top-right" };

export class MapView {
  private readonly map: EngineMap;
  private markers: Marker[] = [];
  private scale = new ScaleControl({ unit: getSystem() === "us" ? "imperial" : "metric" });
  private option = 0;
  private pinned = false;

  /** `tell` shows what the reader points at, or nothing. Throws where the browser has no WebGL. */
  constructor(container: HTMLElement, backdrop: Backdrop, private readonly tell: (what: Told | null, pinned: boolean) => void) {
    startWorkers();
    const box = answer.bbox ?? packed?.bbox;
    this.map = new EngineMap({
      container, style: mapStyle(backdrop), attributionControl: false, dragRotate: false, pitchWithRotate: false, touchPitch: false,
      maxZoom: 18, fadeDuration: 0, canvasContextAttributes: { preserveDrawingBuffer: true },
      ...(box ? { bounds: [box[0], box[1], box[2], box[3]] as [number, number, number, number] } : {}),
      fitBoundsOptions: { padding: 40 },
      locale: { "Map.Title": "Map of the shuttle. Arrow keys move it, plus and minus zoom." },
    });
    this.map.touchZoomRotate.disableRotation();
    this.map.keyboard.disableRotation();
    this.map.addControl(new NavigationControl({ showCompass: false }), "top-right");
    this.map.addControl(this.scale, "bottom-right");
    this.map.on("load", () => {
      this.map.addImage("arrow-loaded", arrow(true), { pixelRatio: 2 });
      this.map.addImage("arrow-empty", arrow(false), { pixelRatio: 2 });
      this.draw();
    });
    this.map.on("mousemove", (event) => { if (!this.pinned) this.point(event, false); });
    this.map.on("click", (event) => this.point(event, true));
    this.map.once("idle", () => container.setAttribute("data-drawn", "yes"));
  }

  /** The engine, for tests that count what is drawn. */
  get engine(): EngineMap { return this.map; }

  show(option: number): void {
    this.option = option;
    this.pinned = false;
    if (this.map.isStyleLoaded() || this.map.getSource("option")) this.draw();
    this.mark();
    this.fit();
  }

  units(): void {
    this.scale.setUnit(getSystem() === "us" ? "imperial" : "metric");
    this.mark();
  }

  /** Puts a place into the middle. */
  goTo(at: Position): void {
    this.map.easeTo({ center: at, zoom: Math.max(this.map.getZoom(), 14.5), duration: calm() ? 0 : 600 });
  }

  private draw(): void {
    const source = this.map.getSource<GeoJSONSource>("option");
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
    const all = [...here.flatMap((f) => positions(f.geometry.coordinates)), [about.incident.lon, about.incident.lat] as Position];
    const bounds = all.reduce((box, at) => box.extend(at), new LngLatBounds());
    const { clientWidth: wide, clientHeight: high } = this.map.getContainer();
    // Room for the signs, and for their names below and beside them.
    const side = Math.max(58, Math.min(90, wide / 9));
    const padding = { left: side, right: side, top: 40, bottom: Math.max(40, Math.min(70, high / 9)) };
    this.map.fitBounds(bounds, { padding, duration: 0, maxZoom: 16 });
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
    const what = toldOf(feature);
    const label = kind === "fill" ? (feature.properties as FillSite).name : "";
    const name = `${signNames[kind]}${letter && ` ${letter}`}. ${what.title}. ${what.lines.join(". ")}`;
    const button = h("button", { class: `sign sign-${kind}`, type: "button" },
      sign(kind, letter), h("span", { class: "unseen" }, name), label ? h("span", { class: "sign-label", "aria-hidden": "true" }, label) : null);
    const say = (pinned: boolean) => (event: Event): void => {
      event.stopPropagation();
      this.pinned = pinned;
      this.tell(toldOf(feature), pinned);
    };
    button.addEventListener("click", say(true));
    button.addEventListener("focus", say(true));
    button.addEventListener("mouseenter", () => { if (!this.pinned) this.tell(toldOf(feature), false); });
    const marker = new Marker({ element: button, anchor: anchors[kind] ?? "center" });
    marker.setLngLat(feature.geometry.coordinates as Position).addTo(this.map);
    // The engine calls every sign a map marker; its own words say more.
    button.removeAttribute("role");
    button.removeAttribute("aria-label");
    return marker;
  }

  private point(event: MapMouseEvent, pin: boolean): void {
    const { x, y } = event.point;
    const box: [[number, number], [number, number]] = [[x - REACH, y - REACH], [x + REACH, y + REACH]];
    const there = (ids: string[]): string[] => ids.filter((id) => this.map.getLayer(id));
    const [top] = this.map.queryRenderedFeatures(box, { layers: there(ON_TOP) });
    if (top) {
      const of = top.properties["layer"] === "leg" ? ofOption("leg", this.option) : ofOption("supply_line", this.option);
      const feature = of[Number(top.properties["index"])];
      if (feature) return this.say(told(feature.properties), pin);
    }
    const [below] = this.map.queryRenderedFeatures(box, { layers: there(BELOW) });
    const name = below ? String(below.properties["name"] ?? "") : "";
    if (below && name) return this.say({ title: name, lines: [below.properties["closed"] ? "closed by an overlay" : String(below.properties["kind"]).replaceAll("_", " ")] }, pin);
    this.say(null, false);
  }

  private say(what: Told | null, pin: boolean): void {
    this.pinned = pin && what !== null;
    this.map.getCanvas().style.cursor = what ? "pointer" : "";
    this.tell(what, this.pinned);
  }
}

const calm = (): boolean => matchMedia("(prefers-reduced-motion: reduce)").matches;
