// The server's routes (src/serve/mod.rs) as functions. Whatever goes wrong becomes one error with words for people.

import type { About, Answer, Finding, Packed, Position } from "./data";

export interface Tanker { id: string; tank_gal: number; call: string | null }
export interface ListedSite { name: string; kind: string; at: Position; in_service: boolean; listed: boolean }

export interface State {
  version: string; scenario: string; units: "us" | "metric"; bbox: [number, number, number, number];
  incident: { name: string; at: Position | null }; dump: Position | null; need_gpm: number; need_by: string; reliability: number; period_s: number;
  month: number | null; when: string | null; water: string; tankers: Tanker[]; sites: ListedSite[]; cautions: string[]; attribution: string; sheet: boolean;
}

export interface Way { way: number; name: string; class: string; lines: Position[][]; distance_m: number; closed: boolean }
export interface Place { lon: number; lat: number; read_as: string }

/** What is asked for; what is left out is as the scenario has it. */
export interface Request {
  incident?: Position; dump?: Position; when?: string; need_gpm?: number; tankers?: string[]; without?: string[]; closed_ways?: number[]; month?: number; water?: string;
}

export type Event =
  | { event: "ceilings" | "answer"; answer: Answer }
  | { event: "simulated"; done: number; of: number; option: number | null; sustained_flow_gpm: number | null }
  | { event: "refused"; error: string; findings?: Finding[] };

export class Refused extends Error {
  constructor(message: string, readonly findings: Finding[] = [], readonly retryAfter: number | null = null) { super(message); }
}

async function checked(answer: Response): Promise<Response> {
  if (answer.ok) return answer;
  const told = await answer.json().catch(() => null) as { error?: string; findings?: Finding[] } | null;
  const wait = answer.status === 503 ? Number(answer.headers.get("Retry-After") ?? 1) || 1 : null;
  throw new Refused(told?.error ?? `the server answered ${answer.status}`, told?.findings ?? [], wait);
}

async function ask(path: string, init: RequestInit = {}): Promise<Response> {
  try {
    return await checked(await fetch(path, { ...init, cache: "no-store" }));
  } catch (error) {
    if (error instanceof Refused || (error instanceof DOMException && error.name === "AbortError")) throw error;
    throw new Refused("the server cannot be reached; is tankerloop serve still running?");
  }
}

const get = async <T>(path: string, signal?: AbortSignal): Promise<T> => (await ask(path, signal ? { signal } : {})).json() as Promise<T>;

export const state = (): Promise<State> => get<State>("/api/state");

export function backdrop(box: [number, number, number, number] | null, signal?: AbortSignal): Promise<Packed> {
  const [west, south, east, north] = (box ?? []).map((x) => x.toFixed(5));
  return get<Packed>(box ? `/api/backdrop?west=${west}&south=${south}&east=${east}&north=${north}` : "/api/backdrop", signal);
}

export const place = (text: string): Promise<Place> => get<Place>(`/api/place?text=${encodeURIComponent(text)}`);
export const way = ([lon, lat]: Position): Promise<Way> => get<Way>(`/api/way?lon=${lon}&lat=${lat}`);

const post = (path: string, request: Request, accept: string, signal?: AbortSignal): Promise<Response> => ask(path, {
  method: "POST", headers: { "Content-Type": "application/json", Accept: accept }, body: JSON.stringify(request), ...(signal ? { signal } : {}),
});

/** Each event as it comes, one JSON object a line. */
export async function* plan(request: Request, signal: AbortSignal): AsyncGenerator<Event> {
  const { body } = await post("/api/plan", request, "application/x-ndjson", signal);
  if (!body) throw new Refused("the server sent nothing");
  const reader = body.getReader();
  const decoder = new TextDecoder();
  let rest = "";
  for (;;) {
    const { done, value } = await reader.read();
    rest += decoder.decode(value ?? new Uint8Array(), { stream: !done });
    const lines = rest.split("\n");
    rest = done ? "" : lines.pop() ?? "";
    for (const line of lines) if (line.trim()) yield JSON.parse(line) as Event;
    if (done) return;
  }
}

export const geojson = async (request: Request): Promise<Blob> => (await post("/api/plan", request, "application/geo+json")).blob();
export const page = async (request: Request, units: string): Promise<Blob> => (await post(`/api/page?units=${units}`, request, "text/html")).blob();
/** Of one option; the paper goes with the units. */
export const sheet = async (request: Request, units: string, option: number): Promise<Blob> =>
  (await post(`/api/sheet?units=${units}&paper=${units === "us" ? "letter" : "a4"}${option ? `&option=${option}` : ""}`, request, "text/html")).blob();

/** What the page of this request holds beside the answer: flows in time and the rig. */
export async function inTime(request: Request, units: string): Promise<About> {
  const text = await (await page(request, units)).text();
  const held = new DOMParser().parseFromString(text, "text/html").getElementById("data-about")?.textContent;
  if (!held) throw new Refused("the page of this request holds no series");
  return JSON.parse(held) as About;
}
