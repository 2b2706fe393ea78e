// What can be asked, as a form. All of it works by keyboard; what is tapped on the map can be typed here.

import { h } from "./dom";
import type { Child } from "./dom";
import type { State } from "./liveapi";
import { moment } from "./liveask";
import type { Ask, Closed } from "./liveask";
import { flowFrom, flowNumber, flowUnit, volume } from "./units";

export interface Doing {
  /** Something else is asked now. */
  changed: () => void;
  /** Coordinates as typed; the promise ends with what they were read as, or fails with what is wrong. */
  incidentAt: (text: string) => Promise<string>;
  dumpAt: (text: string) => Promise<string>;
  /** Any dump site again, as the scenario has it. */
  anyDump: () => void;
  closeAt: (text: string) => Promise<string>;
  reopen: (road: Closed) => void;
  scenario: () => void;
}

const MONTHS = ["January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November", "December"];

const short = (name: string): string => (name.length > 120 ? `${name.slice(0, 119)}…` : name);

/** A field whose text is sent off by Enter or its button, with what came of it below. */
function sent(id: string, label: string, hint: string, button: string, send: (text: string) => Promise<string>): HTMLElement {
  const input = h("input", { type: "text", id, autocomplete: "off", spellcheck: "false", "aria-describedby": `${id}-told` });
  const told = h("span", { id: `${id}-told`, class: "aside", role: "status" }, hint);
  const go = async (event: Event): Promise<void> => {
    event.preventDefault();
    if (!input.value.trim()) return;
    told.textContent = "…";
    const good = await send(input.value).then((said) => { told.textContent = said; return true; }, (e: unknown) => { told.textContent = e instanceof Error ? e.message : String(e); return false; });
    told.classList.toggle("wrong", !good);
    input.setAttribute("aria-invalid", String(!good));
  };
  return h("form", { class: "field", submit: (event) => { void go(event); } },
    h("label", { for: id }, label), h("span", { class: "with-button" }, input, h("button", { type: "submit" }, button)), told);
}

export class Form {
  private readonly roads = h("div", { id: "closed-roads" });
  private readonly pinned = h("p", { id: "dump-pinned", class: "with-button" });

  constructor(private readonly into: HTMLElement, private readonly state: State, private readonly ask: () => Ask, private readonly doing: Doing) {}

  draw(names: string[]): void {
    const { state, doing } = this;
    const ask = this.ask();
    const need = h("input", { type: "number", id: "need", min: 1, step: "any", inputmode: "decimal", change: () => {
      const value = Number(need.value);
      ask.need = need.value !== "" && Number.isFinite(value) && value > 0 ? flowFrom(value) : null;
      if (ask.need === null) need.value = figure(state.need_gpm);
      doing.changed();
    } });
    const figure = (gpm: number): string => String(Math.round(flowNumber(gpm) * 10) / 10);
    need.value = figure(ask.need ?? state.need_gpm);
    const when = h("input", { type: "datetime-local", id: "when", min: "2000-01-01T00:00", max: "2099-12-31T23:59", change: () => {
      ask.when = moment(when.value.slice(0, 16));
      // The month is in it.
      if (ask.when !== null) ask.month = null;
      const month = this.into.querySelector<HTMLSelectElement>("#month");
      if (month && ask.when !== null) month.value = "";
      doing.changed();
    } });
    when.value = ask.when ?? "";
    const parts: Child[] = [
      h("h2", { id: "ask-title" }, "What is asked"),
      sent("incident-text", "Incident, coordinates", "Degrees with the longitude first or with N and W, degrees and minutes, or USNG; or tap the map.", "Set", doing.incidentAt),
      sent("dump-text", "Dump site, coordinates", "Only if you want it at one place; or choose “sets the dump site” at the map and tap the road.", "Set", doing.dumpAt),
      this.pinned,
      h("p", { class: "field" }, h("label", { for: "need" }, `Needed flow, ${flowUnit()}`), need),
      this.picked("Month", "month", [["", `as the scenario has it${state.month ? ` (${MONTHS[state.month - 1] ?? ""})` : ""}`], ...MONTHS.map((m, i): [string, string] => [String(i + 1), m])],
        String(ask.month ?? ""), (v) => { ask.month = v ? Number(v) : null; ask.when = null; when.value = ""; }),
      h("p", { class: "field" }, h("label", { for: "when" }, `Date and local time${state.when ? ` (the scenario has ${state.when.slice(0, 16).replace("T", " ")})` : ""}`), when),
      this.picked("Water level", "water", [["", `as the scenario has it (${state.water})`], ["drought", "drought"], ["normal", "normal"]], ask.water ?? "", (v) => { ask.water = v || null; }),
      this.boxes("Tankers available", "tanker", state.tankers.map((t) => ({ id: t.id, text: `${short(t.id)}, ${volume(t.tank_gal)}${t.call ? ` (${t.call})` : ""}`, on: !ask.away.has(t.id), fixed: false })), ask.away, true),
      this.boxes("Fill sites in service", "site", state.sites.map((s) => ({ id: s.name, text: `${short(s.name)}, ${s.kind}${s.in_service ? "" : " (out of service in the list)"}`, on: s.in_service && !ask.out.has(s.name), fixed: !s.in_service })), ask.out, false),
      this.roads,
      sent("road-text", "Close a road: name or coordinates", "Or choose “closes a road” at the map and tap it.", "Close", doing.closeAt),
      h("datalist", { id: "road-names" }, ...names.slice(0, 2000).map((name) => h("option", { value: name }))),
      h("p", {}, h("button", { type: "button", click: doing.scenario }, "Back to the scenario")),
    ];
    this.into.replaceChildren(...parts.filter((x) => x !== null && x !== undefined));
    this.into.querySelector("#road-text")?.setAttribute("list", "road-names");
    this.closed();
    this.dump();
  }

  /** Where the dump site is pinned, and how it is let go. */
  dump(): void {
    const { dump } = this.ask();
    this.pinned.hidden = dump === null;
    this.pinned.replaceChildren(...(dump
      ? [h("span", {}, `Dump site pinned at ${dump[0].toFixed(5)}, ${dump[1].toFixed(5)}`), h("button", { type: "button", click: this.doing.anyDump }, "Any dump site")]
      : []));
  }

  /** The list of closed roads anew. */
  closed(): void {
    const { closed } = this.ask();
    this.roads.replaceChildren(h("h3", { id: "closed-title" }, "Roads closed"), closed.length
      ? h("ul", { class: "closed-list", "aria-labelledby": "closed-title" }, ...closed.map((road) => h("li", {},
        h("span", {}, road.way.name ? short(road.way.name) : `${road.way.class.replaceAll("_", " ")}, way ${road.way.way}`),
        h("button", { type: "button", click: () => this.doing.reopen(road) }, "Reopen", h("span", { class: "unseen" }, ` ${short(road.way.name) || `way ${road.way.way}`}`)))))
      : h("p", { class: "aside" }, "None but what the overlays close."));
  }

  private picked(name: string, id: string, options: [string, string][], value: string, set: (value: string) => void): HTMLElement {
    const select = h("select", { id, change: () => { set(select.value); this.doing.changed(); } }, ...options.map(([v, text]) => h("option", { value: v }, text)));
    select.value = value;
    return h("p", { class: "field" }, h("label", { for: id }, name), select);
  }

  private boxes(title: string, kind: string, all: { id: string; text: string; on: boolean; fixed: boolean }[], off: Set<string>, open: boolean): HTMLElement {
    const rows = all.map(({ id, text, on, fixed }, i) => {
      const box = h("input", { type: "checkbox", id: `${kind}-${i}`, "data-name": id.slice(0, 200), disabled: fixed, change: () => { if (box.checked) off.delete(id); else off.add(id); this.doing.changed(); } });
      box.checked = on;
      return h("label", { for: `${kind}-${i}` }, box, h("span", {}, text));
    });
    const fieldset = h("fieldset", { class: "boxes" }, h("legend", { class: "unseen" }, title), ...rows);
    const details = h("details", { class: "ask-part" }, h("summary", {}, `${title} (${all.length})`), fieldset);
    details.open = open || off.size > 0;
    return details;
  }
}
