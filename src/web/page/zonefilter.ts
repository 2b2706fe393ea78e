// Which stretches are shown: the classes as a table that is legend, sums and filter in one, and below it the other ways
// to choose.

import { h } from "./dom";
import { lineSwatch } from "./signs";
import { count, gaps, indices, lengthOf, road, textOf, textsOf } from "./zone";
import { classesThere, metresOf, roadByClass, views } from "./zoneviews";
import type { View } from "./zoneviews";
import { boundWords } from "./zonetold";
import { flow, miles } from "./units";
import { need } from "./zone";

export class Filter {
  view: View = views[0] as View;
  gaps = gaps.length > 0;
  private off = new Set<number>();
  private belowOnly = false;
  private bound = "";
  private site = "";
  private name = "";
  private readonly said = h("p", { class: "aside", role: "status", "data-key": "shown" });
  private readonly body = h("tbody");

  constructor(private readonly into: HTMLElement, private readonly changed: () => void) {}

  shown(): number[] {
    const like = this.name.trim().toLocaleLowerCase();
    return indices.filter((i) =>
      !this.off.has(this.view.classOf(i)) && !(this.belowOnly && this.view.meets(i))
      && (!this.bound || textOf("bound_by", i) === this.bound)
      && (!this.site || textsOf("fill_sites", i).includes(this.site))
      && (!like || road(i).toLocaleLowerCase().includes(like)));
  }

  /** Told when what is shown has changed. */
  tell(shown: readonly number[]): void {
    this.said.textContent = `${shown.length.toLocaleString("en-US")} of ${count.toLocaleString("en-US")} stretches shown, ${miles(metresOf(shown))} of road`;
  }

  private all(): void {
    this.off.clear();
    this.belowOnly = false;
    this.bound = this.site = this.name = "";
    this.draw();
    this.changed();
  }

  private classes(): void {
    const metres = roadByClass(this.view);
    const all = metres.reduce((a, b) => a + b, 0) || 1;
    this.body.replaceChildren(...classesThere(this.view).map(([k, kind]) => {
      const id = `class-${k}`;
      const box = h("input", { type: "checkbox", id, change: () => { if (box.checked) this.off.delete(k); else this.off.add(k); this.changed(); } });
      box.checked = !this.off.has(k);
      return h("tr", { "data-class": k },
        h("th", { scope: "row" }, h("label", { for: id }, box, lineSwatch(kind.style), h("span", {}, kind.label()))),
        h("td", {}, h("span", { "data-key": "road" }, miles(metres[k] ?? 0)), h("span", { class: "share", "data-key": "share" }, `${(((metres[k] ?? 0) / all) * 100).toFixed(0)} %`)));
    }));
  }

  draw(): void {
    this.classes();
    const chosen = (id: string, name: string, options: [string, string][], value: string, set: (value: string) => void): HTMLElement => {
      const select = h("select", { id, change: () => { set(select.value); this.changed(); } }, ...options.map(([v, text]) => h("option", { value: v }, text)));
      select.value = value;
      return h("p", { class: "field" }, h("label", { for: id }, name), select);
    };
    const tick = (id: string, name: string, value: boolean, set: (value: boolean) => void): HTMLElement => {
      const box = h("input", { type: "checkbox", id, change: () => { set(box.checked); this.changed(); } });
      box.checked = value;
      return h("p", { class: "field tick" }, h("label", { for: id }, box, name));
    };
    const byRoad = (key: (i: number) => string[]): [string, number][] => {
      const sum = new Map<string, number>();
      for (const i of indices) for (const k of key(i)) sum.set(k, (sum.get(k) ?? 0) + lengthOf(i));
      return [...sum].sort((a, b) => b[1] - a[1]);
    };
    const find = h("input", { id: "find", type: "search", list: "roads", autocomplete: "off", input: () => { this.name = find.value; this.changed(); } });
    find.value = this.name;
    const parts: (HTMLElement | null)[] = [
      h("h2", { id: "options-title" }, "Roads by flow"),
      views.length < 2 ? null : chosen("view", "Coloured by", views.map((v) => [v.key, v.name]), this.view.key, (key) => {
        this.view = views.find((v) => v.key === key) ?? this.view;
        this.off.clear();
        this.classes();
      }),
      h("table", { class: "classes" }, h("caption", {}, views.length < 2 ? views[0]?.name ?? "" : ""),
        h("thead", {}, h("tr", {}, h("th", { scope: "col" }, "shown"), h("th", { scope: "col" }, "road, share"))), this.body),
      this.said,
      tick("below", `Only below the need of ${flow(need)}`, this.belowOnly, (v) => { this.belowOnly = v; }),
      gaps.length === 0 ? null : tick("gaps-on", `Outline the gaps (${gaps.length})`, this.gaps, (v) => { this.gaps = v; }),
      chosen("bound", "Held back by", [["", "anything"], ...byRoad((i) => [textOf("bound_by", i)]).map(([k, m]): [string, string] => [k, `${boundWords(k)} (${miles(m)})`])], this.bound, (v) => { this.bound = v; }),
      chosen("site", "Fill site", [["", "any"], ...byRoad((i) => textsOf("fill_sites", i)).map(([k, m]): [string, string] => [k, `${k.slice(0, 60)} (${miles(m)})`])], this.site, (v) => { this.site = v; }),
      h("p", { class: "field" }, h("label", { for: "find" }, "Road name"), find,
        h("datalist", { id: "roads" }, ...[...new Set(indices.map((i) => textOf("road", i)))].filter(Boolean).sort().slice(0, 2000).map((name) => h("option", { value: name })))),
      h("p", {}, h("button", { type: "button", click: () => this.all() }, "Show all roads")),
    ];
    this.into.replaceChildren(...parts.filter((x) => x !== null));
  }
}
