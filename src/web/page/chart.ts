// Flow offered, flow drawn and the tanks against time, with every tanker's arrivals below: three plots
// over one time axis. The same is given as a table.

import uPlot from "uplot";
import type { Series } from "./data";
import { h, table } from "./dom";
import { colours as c } from "./palette";
import { duration, flow, flowNumber, flowUnit, volume, volumeNumber, volumeUnit } from "./units";

const FONT = "12px system-ui, sans-serif";
const AXIS_WIDTH = 62;
const ROW = 16;

export class Chart {
  private plots: uPlot[] = [];
  private series: Series | null = null;
  private readonly stage = h("div", { class: "plots", "aria-hidden": "true" });
  private readonly readout = h("p", { class: "readout", role: "status" });
  private readonly words = h("div");
  private width = 0;

  constructor(into: HTMLElement) {
    into.replaceChildren(h("h2", { id: "time-title" }, "Flow and tank level in time"), this.readout, this.stage, this.words);
    // Only the width is followed: the height is the plots' own.
    new ResizeObserver(() => {
      const wide = this.stage.clientWidth;
      if (wide > 0 && Math.abs(wide - this.width) > 1) this.draw();
    }).observe(this.stage);
  }

  show(series: Series | null): void {
    this.series = series;
    this.draw();
    this.tell();
  }

  private draw(): void {
    for (const plot of this.plots) plot.destroy();
    this.plots = [];
    this.stage.replaceChildren();
    const all = this.series;
    this.width = this.stage.clientWidth;
    if (!all || all.t_s.length === 0 || this.width === 0) return;
    const minutes = [0, ...all.t_s.map((t) => t / 60)];
    const flows = (column: number[]): number[] => [flowNumber(column[0] ?? 0), ...column.map(flowNumber)];
    const stepped = uPlot.paths.stepped?.({ align: -1 });
    const tall = window.innerHeight > 1200;
    this.add(`Flow, ${flowUnit()}`, tall ? 165 : 130, [minutes, flows(all.offered_gpm), flows(all.drawn_gpm)], [
      { stroke: c.offeredEdge, width: 1, fill: c.offered, points: { show: false }, ...(stepped ? { paths: stepped } : {}) },
      { stroke: c.drawn, width: 2.5, points: { show: false }, ...(stepped ? { paths: stepped } : {}) },
    ], {});
    const levels = (column: number[]): number[] => [0, ...column].map(volumeNumber);
    const room = minutes.map(() => volumeNumber(all.tank_room_gal));
    this.add(`In the tanks, ${volumeUnit()}`, tall ? 135 : 110, [minutes, levels(all.level_high_gal), levels(all.level_low_gal), levels(all.level_gal), room], [
      { stroke: c.levelEdge, width: 0.6, points: { show: false } },
      { stroke: c.levelEdge, width: 0.6, points: { show: false } },
      { stroke: c.levelEdge, width: 2.2, points: { show: false } },
      { stroke: c.ink, width: 1.2, dash: [6, 5], points: { show: false } },
    ], { bands: [{ series: [1, 2], fill: c.level }] });
    const tankers = [...new Set(all.arrivals.map((a) => a.tanker))].sort((a, b) => a.localeCompare(b, "en", { numeric: true }));
    if (tankers.length > 0) this.arrivals(all, minutes, tankers);
  }

  private arrivals(all: Series, minutes: number[], tankers: string[]): void {
    const rows = minutes.map(() => null as number | null);
    const lines = (u: uPlot): void => {
      const pen = u.ctx;
      pen.save();
      pen.fillStyle = c.loaded;
      const half = 5 * devicePixelRatio;
      for (const a of all.arrivals) {
        const x = u.valToPos(a.t_s / 60, "x", true);
        const y = u.valToPos(tankers.length - 1 - tankers.indexOf(a.tanker), "y", true);
        if (x < u.bbox.left || x > u.bbox.left + u.bbox.width) continue;
        pen.beginPath();
        pen.moveTo(x - half * 0.8, y - half);
        pen.lineTo(x + half * 0.8, y);
        pen.lineTo(x - half * 0.8, y + half);
        pen.fill();
      }
      pen.restore();
    };
    const short = (name: string): string => (name.length > 8 ? `${name.slice(0, 7)}…` : name);
    this.add("Tankers arrive at the dump site", tankers.length * ROW + 44, [minutes, rows], [{ points: { show: false } }], {
      scales: { x: { time: false }, y: { range: [-0.6, tankers.length - 0.4] } },
      hooks: { draw: [lines] },
      axes: [this.timeAxis(true), {
        size: AXIS_WIDTH, font: FONT, stroke: c.ink, grid: { stroke: c.rule, width: 1 }, ticks: { show: false },
        splits: () => tankers.map((_, i) => i), values: (_, at) => at.map((i) => short(tankers[tankers.length - 1 - i] ?? "")),
      }],
    });
  }

  private timeAxis(named: boolean): uPlot.Axis {
    return {
      font: FONT, stroke: c.ink, grid: { stroke: c.rule, width: 1 }, ticks: { stroke: c.edge, width: 1, size: 4 }, size: named ? 24 : 8,
      values: (_, at) => at.map((m) => (named ? `${m} min` : "")),
    };
  }

  private add(title: string, height: number, data: (number | null)[][], lines: uPlot.Series[], more: Partial<uPlot.Options>): void {
    const box = h("div", { class: "plot" }, h("p", { class: "plot-title" }, title));
    this.stage.append(box);
    const plot = new uPlot({
      width: this.width, height, legend: { show: false }, padding: [6, 26, 0, 0],
      cursor: { sync: { key: "time" }, drag: { x: false, y: false }, points: { show: false }, y: false },
      scales: { x: { time: false }, y: { range: (_, __, most) => [0, Math.max(1, most * 1.08)] } },
      series: [{}, ...lines],
      axes: [this.timeAxis(false), { size: AXIS_WIDTH, font: FONT, stroke: c.ink, grid: { stroke: c.rule, width: 1 }, ticks: { show: false }, values: (_, at) => at.map((v) => v.toLocaleString("en-US")) }],
      hooks: {},
      ...more,
    }, data as uPlot.AlignedData, box);
    (plot.hooks.setCursor ??= []).push((u) => this.say(u.cursor.idx ?? null));
    this.plots.push(plot);
  }

  /** What the reader points at, or how to read the plots. */
  private say(index: number | null): void {
    const all = this.series;
    if (!all) return;
    const i = index === null ? -1 : index - 1;
    const at = all.t_s[i];
    this.readout.textContent = at === undefined
      ? "Means over all runs at the sustained flow. Filled: what tankers offer to the tanks; thick line: what the attack draws; band: eight of ten runs lie in it; broken line: room in the tanks. Arrivals: every time its mean."
      : `Minute ${Math.round(at / 60)}: offered ${flow(all.offered_gpm[i] ?? 0)}, drawn ${flow(all.drawn_gpm[i] ?? 0)}, ${volume(all.level_gal[i] ?? 0)} in the tanks (${volume(all.level_low_gal[i] ?? 0)} to ${volume(all.level_high_gal[i] ?? 0)})`;
  }

  /** The same as a table, every five minutes. */
  private tell(): void {
    this.say(null);
    const all = this.series;
    if (!all) return this.words.replaceChildren();
    const rows = all.t_s.map((t, i) => [t, i] as const).filter(([t]) => t % 300 === 0).map(([t, i]) => [
      `${t / 60} min`, flow(mean(all.offered_gpm, i)), flow(mean(all.drawn_gpm, i)), `${volume(all.level_gal[i] ?? 0)} (${volume(all.level_low_gal[i] ?? 0)} to ${volume(all.level_high_gal[i] ?? 0)})`,
      all.arrivals.filter((a) => a.t_s > t - 300 && a.t_s <= t).map((a) => `${a.tanker} at ${duration(a.t_s)}`).join(", "),
    ]);
    this.words.replaceChildren(h("details", {}, h("summary", {}, "The chart as a table"),
      table("Five minutes a row, from dispatch", ["to", "offered, mean", "drawn, mean", "in the tanks (eight of ten runs)", "tankers arrive"], rows)));
  }
}

/** Over the five minutes that end with this one. */
function mean(column: number[], end: number): number {
  const part = column.slice(Math.max(0, end - 4), end + 1);
  return part.reduce((sum, value) => sum + value, 0) / Math.max(1, part.length);
}
