// What follows the choice of an option: cards, map, figures, chart, rig. The page of one answer and the live page share it.

import type { Backdrop } from "./backdrop";
import { Chart } from "./chart";
import { about, ofOption } from "./data";
import type { Position } from "./data";
import { byId } from "./dom";
import { facts, rig } from "./facts";
import type { Stage } from "./frame";
import type { MapView } from "./map";
import { firstChoice, options } from "./options";
import { sign, signNames, swatch } from "./signs";
import type { Sign } from "./signs";
import { sketch } from "./sketch";
import { distance, duration } from "./units";

export class AnswerFace {
  option = 0;
  map: MapView | null = null;
  private readonly chart = new Chart(byId("time"));

  /** `chosen` is told the number of an option that the reader chose. */
  constructor(
    private readonly stage: Stage, private readonly cards: HTMLElement, public backdrop: Backdrop, private readonly chosen: (option: number) => void,
  ) {
    const signs: Sign[] = ["incident", "dump", "fill", "staging", "note", "unused"];
    stage.explain([
      [swatch("loaded"), "Loaded leg"], [swatch("empty"), "Empty leg"], [swatch("supply"), "Supply line"],
      ...signs.map((kind): [Node, string] => [sign(kind), signNames[kind]]),
    ]);
  }

  /** Another answer, other units, or another option as the address has it. `fit` moves the map to it. */
  show(asked: string, fit = true): void {
    this.option = firstChoice(asked);
    // What has the focus is made anew and keeps it.
    const focus = document.activeElement?.id ?? "";
    options(this.cards, this.option, (option) => this.choose(option));
    if (/^option-\d+$/.test(focus)) document.getElementById(focus)?.focus({ preventScroll: true });
    this.follow();
    this.map?.show(this.option, fit);
  }

  choose(option: number): void {
    this.option = option;
    this.chosen(option);
    this.follow();
    this.map?.show(option);
  }

  private follow(): void {
    const { option, stage } = this;
    facts(byId("facts"), option, (at: Position) => { this.map?.engine.goTo(at); byId("picture").scrollIntoView({ block: "nearest" }); });
    rig(byId("rig"), option);
    this.describe();
    stage.tell(null, false);
    stage.draw(sketch(option, this.backdrop));
    this.chart.show(about.series.find((s) => s.option === option) ?? null);
  }

  /** The map in words, for those who do not see it. */
  private describe(): void {
    const dump = ofOption("dump_site", this.option)[0]?.properties;
    const legs = ofOption("leg", this.option).map(({ properties: p }) =>
      `${p.leg} ${p.leg === "loaded" ? `from ${p.fill_site}` : `to ${p.fill_site}`} ${distance(p.distance_m)} in ${duration(p.travel_s)} by ${p.streets}`);
    this.stage.words.textContent = dump
      ? `The map of option ${this.option}: dump site on ${dump.road}, ${distance(dump.supply_line_m)} of hose from the incident; ${legs.join("; ")}.`
      : "The map shows the incident and the fill sites; there is no option.";
  }
}
