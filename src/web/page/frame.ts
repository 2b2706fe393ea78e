// What every face of the page has: the head with units and print, the stage of the map, the cautions.

import { byId, h } from "./dom";
import type { Child } from "./dom";
import type { Told } from "./told";
import { getSystem, setSystem } from "./units";
import type { System } from "./units";

export function head(kind: string, title: string, need: Child[], again: () => void): void {
  const units = h("select", { id: "units", change: () => { setSystem(units.value as System); again(); } },
    h("option", { value: "us" }, "gpm, gallons, miles"), h("option", { value: "metric" }, "L/min, litres, km"));
  units.value = getSystem();
  byId("head").replaceChildren(
    h("div", { class: "head-title" }, h("p", { class: "head-kind" }, kind), h("h1", {}, title)),
    h("p", { class: "head-need" }, ...need.map((x) => x ?? "")),
    h("div", { class: "head-tools" }, h("label", { for: "units" }, "Units "), units,
      h("button", { type: "button", click: () => window.print() }, "Print")));
}

export function foot(cautions: string[], attribution: string, version: string): void {
  byId("foot").replaceChildren(h("h2", {}, "Cautions"), h("ul", {}, ...cautions.map((text) => h("li", {}, text))),
    h("p", { class: "source" }, `${attribution}. Written by tankerloop ${version}.`));
}

/** The map with the drawing that stands in for it, and what is said of what the reader points at. */
export class Stage {
  readonly canvas = h("div", { id: "map", "aria-describedby": "map-words" });
  readonly words = h("p", { id: "map-words", class: "aside" });
  private readonly drawing = h("div", { id: "drawing" });
  private readonly detail = h("div", { id: "detail", role: "status", "aria-live": "polite" });
  private readonly legend = h("div");

  constructor(notes: string[], tools: HTMLElement | null = null) {
    byId("picture").replaceChildren(
      h("h2", { id: "map-title", class: "unseen" }, "Map"), ...(tools ? [tools] : []),
      h("div", { class: "stage" }, this.canvas, this.drawing, this.detail), this.legend,
      h("details", { class: "words" }, h("summary", {}, "The map in words"), this.words),
      ...(notes.length ? [h("p", { class: "aside" }, `Map: ${notes.join("; ")}.`)] : []));
  }

  explain(items: [Node, string][]): void {
    this.legend.replaceChildren(h("ul", { class: "legend", "aria-label": "Legend" }, ...items.map(([picture, text]) => h("li", {}, picture, text))));
  }

  draw(picture: SVGSVGElement): void { this.drawing.replaceChildren(picture); }

  readonly tell = (what: Told | null, pinned: boolean): void => {
    this.detail.classList.toggle("pinned", pinned);
    this.detail.replaceChildren(...(what ? [h("p", { class: "detail-title" }, what.title), ...what.lines.filter(Boolean).map((line) => h("p", {}, line))] : []));
  };

  /** Makes the moving map once the rest is to be seen; the drawing stays where the browser cannot have one. */
  startMap(make: () => Promise<{ once: (event: "idle", then: () => void) => unknown }>): void {
    afterFirstPicture(() => {
      performance.mark("page-told");
      make().then((engine) => {
        engine.once("idle", () => { document.body.classList.add("map-ready"); performance.mark("map-drawn"); });
        // For tests, and for whoever looks into the page.
        (window as unknown as { tankerloopMap: unknown }).tankerloopMap = engine;
      }).catch(() => {
        document.body.classList.add("no-map");
        this.tell({ title: "This browser cannot draw the moving map", lines: ["It has no WebGL2. The drawing and the tables say the same."] }, true);
      });
    });
  }
}

/** The engine takes a moment to make ready and holds everything else up meanwhile: what can be seen without
 * it comes first. */
function afterFirstPicture(work: () => void): void {
  let done = false;
  const once = (): void => {
    if (!done) setTimeout(work, 0);
    done = true;
  };
  new PerformanceObserver((entries) => { if (entries.getEntriesByName("first-contentful-paint").length) once(); }).observe({ type: "paint", buffered: true });
  // In a tab in the background nothing is painted.
  setTimeout(once, 1500);
}
