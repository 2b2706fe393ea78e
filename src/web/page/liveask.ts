// What is asked, and as an address that asks the same again. Only what differs from the scenario is in it.

import type { Position } from "./data";
import type { Request, State, Way } from "./liveapi";

/** A road closed by the reader: the place tapped tells which, its lines come from the server. */
export interface Closed { at: Position; way: Way }

export interface Ask {
  at: Position | null;
  /** The only dump site to try. */
  dump: Position | null;
  need: number | null;
  /** Tankers that stay away. */
  away: Set<string>;
  /** Fill sites out of service. */
  out: Set<string>;
  closed: Closed[];
  month: number | null;
  /** Local time without a zone, such as 2026-01-15T14:00; a month is in it. */
  when: string | null;
  water: string | null;
}

/** As far as it can be told without the server: the roads are only places yet. */
export interface Asked { ask: Ask; closedAt: Position[]; option: string }

function position(text: string | null): Position | null {
  const [lon, lat] = (text ?? "").split(",").map(Number);
  return lon !== undefined && lat !== undefined && Number.isFinite(lon) && Number.isFinite(lat) && Math.abs(lon) <= 180 && Math.abs(lat) <= 90 && text?.includes(",")
    ? [lon, lat] : null;
}

function positive(text: string | null): number | null {
  const value = Number(text);
  return text !== null && Number.isFinite(value) && value > 0 ? value : null;
}

export function read(query: string, state: State): Asked {
  const given = new URLSearchParams(query);
  const known = (names: string[], all: string[]): Set<string> => new Set(names.filter((name) => all.includes(name)));
  const month = Number(given.get("month"));
  const when = given.get("when");
  const water = given.get("water");
  return {
    ask: {
      at: position(given.get("at")), dump: position(given.get("dump")), need: positive(given.get("need")),
      away: known(given.getAll("away"), state.tankers.map((t) => t.id)), out: known(given.getAll("out"), state.sites.map((s) => s.name)),
      closed: [], month: Number.isInteger(month) && month >= 1 && month <= 12 ? month : null,
      when: moment(when ?? ""),
      water: water === "normal" || water === "drought" ? water : null,
    },
    closedAt: given.getAll("closed").map(position).filter((x) => x !== null),
    option: given.get("option") ?? "",
  };
}

/** A local time as a field for one has it, or none. */
export const moment = (text: string): string | null => (/^\d{4}-\d\d-\d\dT\d\d:\d\d$/.test(text) ? text : null);

const told = ([lon, lat]: Position): string => `${lon.toFixed(6)},${lat.toFixed(6)}`;

export function address(ask: Ask, option: number): string {
  const query = new URLSearchParams();
  if (ask.at) query.set("at", told(ask.at));
  if (ask.dump) query.set("dump", told(ask.dump));
  if (ask.need !== null) query.set("need", String(ask.need));
  for (const id of ask.away) query.append("away", id);
  for (const name of ask.out) query.append("out", name);
  for (const road of ask.closed) query.append("closed", told(road.at));
  if (ask.month !== null) query.set("month", String(ask.month));
  if (ask.when) query.set("when", ask.when);
  if (ask.water) query.set("water", ask.water);
  if (option > 1) query.set("option", String(option));
  const text = query.toString();
  return text ? `?${text}` : location.pathname;
}

export function request(ask: Ask, state: State): Request {
  return {
    ...(ask.at ? { incident: ask.at } : {}), ...(ask.need !== null ? { need_gpm: ask.need } : {}),
    ...(ask.away.size ? { tankers: state.tankers.map((t) => t.id).filter((id) => !ask.away.has(id)) } : {}),
    ...(ask.out.size ? { without: [...ask.out] } : {}),
    ...(ask.closed.length ? { closed_ways: [...new Set(ask.closed.map((c) => c.way.way))] } : {}),
    ...(ask.month !== null ? { month: ask.month } : {}), ...(ask.when ? { when: ask.when } : {}), ...(ask.dump ? { dump: ask.dump } : {}),
    ...(ask.water ? { water: ask.water } : {}),
  };
}
