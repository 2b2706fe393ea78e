// The live page: what is asked on one side, and every answer as it comes. Each state has an address that asks the same.

import { AnswerFace } from "./answerface";
import { unpack } from "./backdrop";
import type { Backdrop } from "./backdrop";
import { answer, layer, replaceAbout, replaceAnswer, replaceBackground } from "./data";
import type { Answer, Finding, Position } from "./data";
import { byId, h } from "./dom";
import { Stage, foot, head } from "./frame";
import * as api from "./liveapi";
import type { Request, State } from "./liveapi";
import { address, read, request } from "./liveask";
import type { Ask, Closed } from "./liveask";
import { Form } from "./liveform";
import { LivePlan } from "./liveplan";
import { closedOnMap, drawClosed, followView, onRoad } from "./liveroads";
import { flowOf } from "./options";
import { flow, getSystem, setSystem } from "./units";

type Tap = "incident" | "dump" | "road" | "look";

class LivePage {
  private readonly form: Form;
  private readonly face: AnswerFace;
  private readonly plan: LivePlan;
  private readonly status = h("p", { id: "status", role: "status", "aria-live": "polite" });
  private readonly trouble = h("div", { id: "trouble", role: "alert" });
  private readonly link = h("a", { id: "link", href: "" }, "Link to this state");
  private tap: Tap = "incident";
  private ask: Ask;
  /** The option that the reader chose, or that the address asks for. */
  private asked: string;
  private moved = true;

  constructor(private readonly state: State, private backdrop: Backdrop, asked: { ask: Ask; option: string }) {
    this.ask = asked.ask;
    this.asked = `option=${asked.option}`;
    document.body.classList.add("live");
    const [form, cards] = [h("div", { id: "ask" }), h("div", { id: "cards" })];
    byId("options").setAttribute("aria-labelledby", "ask-title");
    byId("options").replaceChildren(form);
    // Beside the map on a large screen, right below it on a small one.
    byId("picture").after(h("section", { id: "found", "aria-label": "Options found" }, this.status, this.trouble, cards, this.saving()));
    const stage = new Stage(backdrop.notes, this.taps());
    this.form = new Form(form, state, () => this.ask, {
      changed: () => this.again(false), incidentAt: (text) => this.incidentAt(text), dumpAt: (text) => this.dumpAt(text),
      anyDump: () => this.pin(null), closeAt: (text) => this.closeAt(text),
      reopen: (road) => this.reopen(road), scenario: () => { this.ask = read("", state).ask; this.asked = ""; this.draw(); this.again(true); },
    });
    this.face = new AnswerFace(stage, cards, backdrop, (option) => { this.asked = `option=${option}`; this.remember(); });
    byId("time").append(h("p", {}, h("button", { type: "button", id: "in-time", click: (event) => { void this.inTime(event.currentTarget as HTMLButtonElement); } }, "Work out flow in time")));
    this.plan = new LivePlan({
      status: (text, working) => { this.status.textContent = text; document.body.classList.toggle("working", working); },
      show: (next) => this.show(next), refused: (message, findings) => this.refused(message, findings),
    });
    foot(state.cautions, state.attribution, state.version);
    this.draw();
    stage.startMap(async () => {
      const { MapView } = await import("./map");
      const map = new MapView(stage.canvas, this.backdrop, stage.tell, closedOnMap, state.bbox);
      this.face.map = map;
      map.engine.taken = (at) => this.tapped(at);
      map.engine.map.on("load", () => drawClosed(map.engine.map, this.ask.closed));
      followView(map.engine, state.bbox, (next) => { this.backdrop = this.face.backdrop = next; });
      this.show(answer);
      return map.engine.map;
    });
  }

  /** The whole form and head anew, for another state or other units. */
  private draw(): void {
    head("Live plan", this.state.scenario, [this.headline()], () => { this.draw(); this.face.map?.engine.units(); this.moved = false; this.show(answer); });
    this.form.draw([...new Set(this.backdrop.roads.map((r) => r.name))].filter(Boolean).sort());
    document.title = `${this.state.scenario}: live plan`;
  }

  private headline(): HTMLElement {
    const { period_s, reliability } = this.state;
    const best = layer("dump_site")[0]?.properties;
    const need = flow(this.ask.need ?? this.state.need_gpm);
    const said = !best ? "" : best.sustained_flow_gpm === null ? ` Up to ${flow(flowOf(best))}, not yet simulated.` : ` Best option: ${flow(best.sustained_flow_gpm)}${best.meets_need ? "" : ", short of it"}.`;
    return h("span", { id: "headline" }, "Need ", h("strong", { "data-key": "need" }, need), ` for ${Math.round(period_s / 60)} min at ${Math.round(reliability * 100)} % reliability.`, h("strong", {}, said));
  }

  private taps(): HTMLElement {
    const choices: [Tap, string][] = [["incident", "sets the incident"], ["dump", "sets the dump site"], ["road", "closes a road"], ["look", "shows what is there"]];
    return h("fieldset", { class: "taps" }, h("legend", {}, "A tap on the map"), ...choices.map(([tap, text]) => {
      const radio = h("input", { type: "radio", name: "tap", id: `tap-${tap}`, value: tap, change: () => { this.tap = tap; } });
      radio.checked = tap === this.tap;
      return h("label", { for: `tap-${tap}` }, radio, h("span", {}, text));
    }));
  }

  private saving(): HTMLElement {
    const save = (text: string, name: string, make: (request: Request) => Promise<Blob>): HTMLElement => {
      const button = h("button", { type: "button", click: () => {
        button.disabled = true;
        make(request(this.ask, this.state)).then((blob) => download(blob, name), (e: unknown) => this.refused(words(e), []))
          .finally(() => { button.disabled = false; });
      } }, text);
      return button;
    };
    return h("div", { id: "saving", class: "saving" }, h("h3", { id: "save-title" }, "Keep this answer"), h("p", {},
      save("GeoJSON", "answer.geojson", api.geojson), save("Page", "answer.html", (r) => api.page(r, getSystem())),
      this.state.sheet ? save("Sheet", "sheet.html", (r) => api.sheet(r, getSystem(), this.option())) : null), h("p", {}, this.link));
  }

  /** The option that was chosen; 0 for none. */
  private option(): number {
    return Number(/option=(\d+)/.exec(this.asked)?.[1] ?? 0);
  }

  private remember(): void {
    history.replaceState(null, "", address(this.ask, this.option()));
    this.link.href = location.href;
  }

  /** Asks anew; `moved`: the map goes to what comes. */
  again(moved: boolean): void {
    this.moved ||= moved;
    this.trouble.replaceChildren();
    this.remember();
    const map = this.face.map?.engine.map;
    if (map) drawClosed(map, this.ask.closed);
    if (!this.ask.at && !this.state.incident.at) {
      this.status.textContent = "Tap the incident on the map, or type its coordinates.";
      return;
    }
    this.plan.start(request(this.ask, this.state));
  }

  private show(next: Answer): void {
    replaceAnswer(next);
    byId("headline").replaceWith(this.headline());
    for (const id of ["time", "facts", "cards", "saving"]) byId(id).hidden = layer("incident").length === 0;
    if (layer("incident").length === 0) return;
    this.face.show(this.asked, this.moved);
    if (this.face.map) this.moved = false;
  }

  private refused(message: string, findings: Finding[]): void {
    this.status.textContent = "";
    // With findings the message is nothing but them in one line.
    this.trouble.replaceChildren(...(findings.length
      ? [h("p", {}, h("strong", {}, "This cannot be planned:")), h("ul", {}, ...findings.map((f) => h("li", {}, `${f.where.name ? `${f.where.name}: ` : ""}${f.cause}. Do: ${f.action}`)))]
      : [h("p", {}, h("strong", {}, message))]));
  }

  private tapped(at: Position): boolean {
    if (this.tap === "look") return false;
    if (this.tap === "incident") {
      this.ask.at = at;
      this.again(false);
    } else if (this.tap === "dump") {
      this.pin(at);
    } else {
      this.close(at).catch((e: unknown) => this.refused(words(e), []));
    }
    return true;
  }

  private async incidentAt(text: string): Promise<string> {
    const found = await api.place(text);
    this.ask.at = [found.lon, found.lat];
    this.again(true);
    return `Read as ${found.read_as}: ${found.lon.toFixed(5)}, ${found.lat.toFixed(5)} (longitude, latitude).`;
  }

  private async dumpAt(text: string): Promise<string> {
    const found = await api.place(text);
    this.pin([found.lon, found.lat]);
    return `Read as ${found.read_as}.`;
  }

  private pin(at: Position | null): void {
    this.ask.dump = at;
    this.form.dump();
    this.again(false);
  }

  private async closeAt(text: string): Promise<string> {
    const centre = layer("incident")[0]?.geometry.coordinates as Position | undefined;
    const { bbox } = this.state;
    const named = onRoad(text, centre ?? this.ask.at ?? [(bbox[0] + bbox[2]) / 2, (bbox[1] + bbox[3]) / 2], this.backdrop);
    if (named) return this.close(named);
    const found = await api.place(text);
    return this.close([found.lon, found.lat]);
  }

  /** Closes the road at a place, or reopens it where it is closed. */
  private async close(at: Position): Promise<string> {
    const way = await api.way(at);
    const before = this.ask.closed.find((road) => road.way.way === way.way);
    const name = way.name || `way ${way.way}`;
    if (before) {
      this.reopen(before);
      return `${name} is open again.`;
    }
    this.ask.closed = [...this.ask.closed, { at, way }];
    this.form.closed();
    this.again(false);
    return `${name} is closed${way.closed ? "; an overlay had closed it already" : ""}.`;
  }

  private reopen(road: Closed): void {
    this.ask.closed = this.ask.closed.filter((x) => x !== road);
    this.form.closed();
    this.again(false);
  }

  private async inTime(button: HTMLButtonElement): Promise<void> {
    button.disabled = true;
    const of = answer;
    try {
      const about = await api.inTime(request(this.ask, this.state), getSystem());
      if (of === answer) {
        replaceAbout(about);
        this.face.show(`option=${this.face.option}`, false);
      }
    } catch (e) {
      this.refused(words(e), []);
    }
    button.disabled = false;
  }
}

const words = (error: unknown): string => (error instanceof Error ? error.message : String(error));

function download(blob: Blob, name: string): void {
  const address = URL.createObjectURL(blob);
  const link = h("a", { href: address, download: name });
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(address), 10_000);
}

async function open(): Promise<void> {
  const state = await api.state();
  setSystem(state.units);
  const packed = await api.backdrop(state.incident.at ? null : state.bbox);
  replaceBackground(packed);
  const asked = read(location.search, state);
  const closed = await Promise.allSettled(asked.closedAt.map(async (at): Promise<Closed> => ({ at, way: await api.way(at) })));
  asked.ask.closed = closed.flatMap((result) => (result.status === "fulfilled" ? [result.value] : []));
  new LivePage(state, unpack(packed), asked).again(true);
}

export function start(): void {
  open().catch((e: unknown) => byId("options").replaceChildren(h("div", { role: "alert" }, h("p", {}, words(e)),
    h("button", { type: "button", click: () => location.reload() }, "Try again"))));
}
