// The map engine made ready: the background, moving and zooming, and the name of the road under the pointer.
// What a page shows on it is its own.

import { Map as EngineMap, Marker, NavigationControl, ScaleControl } from "maplibre-gl";
import type { GeoJSONSource, LayerSpecification, MapMouseEvent, SourceSpecification } from "maplibre-gl";
import { asGeoJson } from "./backdrop";
import type { Backdrop } from "./backdrop";
import type { Position } from "./data";
import { h } from "./dom";
import { mapStyle, scale } from "./mapstyle";
import { sign, signNames } from "./signs";
import type { Sign } from "./signs";
import type { Told } from "./told";
import { getSystem } from "./units";
import { startWorkers } from "./worker";

const BELOW = ["main", "middle", "small", "service", "tracks", "rivers", "streams", "water"];
/** So far from a line a pointer still means it, in pixels. */
const REACH = 7;
/** Incident and dump site may lie a hose length apart: each points at its place with a corner of its own. */
const anchors: Partial<Record<Sign, "bottom" | "top-right">> = { incident: "bottom", dump: "top-right" };

export type Box = [number, number, number, number];
export type Tell = (what: Told | null, pinned: boolean) => void;

/** What the page draws above the background. */
export interface Own {
  sources: Record<string, SourceSpecification>;
  /** Under the names of roads and places. */
  under: LayerSpecification[];
  above: LayerSpecification[];
  /** Layers that are pointed at, the first before the next. */
  on: string[];
  /** What is said of a feature of these; `pin` where it was clicked or tapped. */
  told: (properties: Record<string, unknown>, pin: boolean) => Told | null;
  title: string;
}

export class Engine {
  readonly map: EngineMap;
  private readonly scale = new ScaleControl({ maxWidth: 100 * scale(), unit: getSystem() === "us" ? "imperial" : "metric" });
  private pinned = false;
  /** Asked first where the map is tapped; true where nothing is to be told of what lies there. */
  taken: ((at: Position) => boolean) | null = null;

  /** `tell` shows what the reader points at, or nothing. Throws where the browser has no WebGL. */
  constructor(container: HTMLElement, backdrop: Backdrop, box: Box | undefined, private readonly own: Own, private readonly tell: Tell) {
    startWorkers();
    this.map = new EngineMap({
      container, style: mapStyle(backdrop, own.sources, own.under, own.above), attributionControl: false, dragRotate: false, pitchWithRotate: false,
      touchPitch: false, maxZoom: 18, fadeDuration: 0, canvasContextAttributes: { preserveDrawingBuffer: true },
      ...(box ? { bounds: box } : {}), fitBoundsOptions: { padding: Math.min(40, container.clientWidth / 20) },
      locale: { "Map.Title": own.title },
    });
    this.map.touchZoomRotate.disableRotation();
    this.map.keyboard.disableRotation();
    this.map.addControl(new NavigationControl({ showCompass: false }), "top-right");
    this.map.addControl(this.scale, "bottom-right");
    this.map.on("mousemove", (event) => { if (!this.pinned) this.point(event, false); });
    this.map.on("click", (event) => { if (!this.taken?.([event.lngLat.lng, event.lngLat.lat])) this.point(event, true); });
    this.map.once("idle", () => container.setAttribute("data-drawn", "yes"));
  }

  /** Another piece of the background in place of the one that is there. */
  replace(backdrop: Backdrop): void {
    for (const [name, data] of Object.entries(asGeoJson(backdrop))) this.map.getSource<GeoJSONSource>(name)?.setData(data);
  }

  units(): void { this.scale.setUnit(getSystem() === "us" ? "imperial" : "metric"); }

  unpin(): void { this.pinned = false; }

  /** Puts a place into the middle. */
  goTo(at: Position, least = 14.5): void {
    this.map.easeTo({ center: at, zoom: Math.max(this.map.getZoom(), least), duration: calm() ? 0 : 600 });
  }

  /** A sign that is a button: hover, focus and tap tell what it is. */
  sign(kind: Sign, at: Position, what: () => Told, { letter = "", label = "" } = {}): Marker {
    const now = what();
    const name = `${signNames[kind]}${letter && ` ${letter}`}. ${now.title}. ${now.lines.join(". ")}`;
    const button = h("button", { class: `sign sign-${kind}`, type: "button" },
      sign(kind, letter), h("span", { class: "unseen" }, name), label ? h("span", { class: "sign-label", "aria-hidden": "true" }, label) : null);
    const say = (event: Event): void => {
      event.stopPropagation();
      this.pinned = true;
      this.tell(what(), true);
    };
    button.addEventListener("click", say);
    button.addEventListener("focus", say);
    button.addEventListener("mouseenter", () => { if (!this.pinned) this.tell(what(), false); });
    const marker = new Marker({ element: button, anchor: anchors[kind] ?? "center" });
    marker.setLngLat(at).addTo(this.map);
    // The engine calls every sign a map marker; its own words say more.
    button.removeAttribute("role");
    button.removeAttribute("aria-label");
    return marker;
  }

  private point(event: MapMouseEvent, pin: boolean): void {
    const { x, y } = event.point;
    const box: [[number, number], [number, number]] = [[x - REACH, y - REACH], [x + REACH, y + REACH]];
    const first = (ids: string[]) => this.map.queryRenderedFeatures(box, { layers: ids.filter((id) => this.map.getLayer(id)) })[0];
    const top = first(this.own.on);
    const what = top ? this.own.told(top.properties, pin) : null;
    if (what) return this.say(what, pin);
    const below = first(BELOW);
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
