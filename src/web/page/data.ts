// What the Rust side put into the page: the answer as it is handed out (GeoJSON, data/answer.schema.json) or a zone
// (zone.ts), the background of the map and what the chart and the rig are drawn from. Only the live page replaces any of it.

export type Position = [number, number];

export interface Feature<P> {
  type: "Feature";
  geometry: { type: string; coordinates: unknown };
  properties: P;
}

export interface Incident { layer: "incident"; name: string; needed_flow_gpm: number; meets_need: boolean }

export interface FillSite {
  layer: "fill_site"; name: string; kind: string; flow_gpm: number | null; volume_gal: number | null;
  berths: number; verified: boolean; used: boolean; reason: string | null; note: string;
}

export interface DumpSite {
  layer: "dump_site"; option: number; road: string; dump_kind: string; fill_sites: string; tankers: number;
  /** Null where nothing was simulated, as all that would be. */
  sustained_flow_gpm: number | null; ceiling_flow_gpm: number; needed_flow_gpm: number; meets_need: boolean;
  limiter: string | null; limiter_gain_gpm: number | null; first_water_s: number | null; sustained_from_s: number | null;
  one_tanker_lost_flow_gpm: number | null; dump_berths: number; tank_room_gal: number; supply_line_m: number;
  supply_line_flow_gpm: number; relay_pumpers: number; flow_with_relay_gpm: number | null;
  tank_row_length_m: number; straight_road_m: number; road_width_m: number | null; space: string;
  drive_through: boolean; trade_off: string | null; unknown_weight_bridges: number;
  wait_dump_s: number | null; wait_full_tanks_s: number | null; replications: number | null; seed: number | null;
  held_250_gpm_from_s?: number | null; held_500_gpm_from_s?: number | null; held_750_gpm_from_s?: number | null;
  held_1000_gpm_from_s?: number | null; tanker_lost_flows?: string | null; source_failed_flows?: string | null;
  berths_enough?: string | null; fewest_tankers?: string | null; wait_lanes?: string | null;
}

/** What to call for where no option meets the need. */
export interface Call {
  vehicles: { id: string; kind: string; call: string; arrives_s: number }[];
  sustained_flow_gpm: number | null; meets_need: boolean; more_tankers: number | null; more_tankers_like: string | null;
  new_source: { flow_gpm: number; berths: number; longest_leg_s: number; longest_leg_mi: number } | null; held_by: string | null;
}

export interface SupplyLine { layer: "supply_line"; option: number; length_m: number; hose_in: number; lines: number; flow_gpm: number }
export interface Staging { layer: "staging"; option: number; road: string; tankers: number; room_m: number; before_dump_m: number }

export interface Loop {
  layer: "loop"; option: number; fill_site: string; loop_kind: string; tankers: number; tanker_ids: string;
  cycle_s: number; loaded_travel_s: number; empty_travel_s: number; loaded_distance_m: number;
  empty_distance_m: number; shared_two_way_m: number; narrow_two_way_m: number; meeting_wait_s: number;
  dump_approach: string; fill_approach: string;
}

export interface Step { instruction: string; heading: string; bearing_deg: number; distance_m: number }

export interface Leg {
  layer: "leg"; option: number; fill_site: string; leg: "loaded" | "empty"; tanker_ids: string;
  travel_s: number; distance_m: number; streets: string; steps: Step[];
}

export interface RoadNote {
  layer: "road_note"; option: number; code: string; severity: string; osm: string | null; road: string | null;
  cause: string; action: string;
}

export type Properties = Incident | FillSite | DumpSite | SupplyLine | Staging | Loop | Leg | RoadNote;

export interface Finding {
  code: string; severity: string; cause: string; action: string;
  where: { file?: string; name?: string; row?: number; osm?: unknown; at?: Position };
}

export interface Answer {
  bbox?: [number, number, number, number];
  features: Feature<Properties>[];
  tankerloop: {
    version: string; scenario: string; simulated?: boolean; meets_need: boolean; needed_flow_gpm: number; reliability: number;
    period_s: number; cautions: string[]; attribution: string; call?: Call | null; findings: Finding[];
    rigs: ({ option: number } & Record<"us" | "metric", RigText>)[];
    rig_cautions: string[];
  };
}

/** Columns of one row a minute, means over all runs; `t_s` counts from dispatch. Low and high are the tenth and ninetieth
 * percentile. Arrivals are those of the run with every time its mean. */
export interface Series {
  option: number; t_s: number[]; offered_gpm: number[]; drawn_gpm: number[]; level_gal: number[];
  level_low_gal: number[]; level_high_gal: number[]; tank_room_gal: number;
  arrivals: { t_s: number; tanker: string; load_gal: number }[];
}

/** The dump rig as `tankerloop rig` tells it. */
export interface RigText {
  head: string; drawing: string; legend: string; tanks: string; stages: { action: string; gives: string }[];
  /** The first row is the heads. */
  valves: string[][];
  valve_notes: string[]; notes: string[];
}

export interface About {
  units: "us" | "metric";
  incident?: { lon: number; lat: number };
  series: Series[];
}

/** Packed by src/output/backdrop.rs. */
export interface Packed {
  origin: Position; bbox: [number, number, number, number]; tolerance_m: number; notes: string[];
  names: string[];
  roads: [string, number, number, number[]][];
  areas: [string, number, number[][]][];
  courses: [string, number, number[]][];
  settlements: [string, number, Position][];
}

export const holds = (id: string): boolean => document.getElementById(`data-${id}`) !== null;

export function read<T>(id: string): T {
  const text = document.getElementById(`data-${id}`)?.textContent;
  if (!text) throw new Error(`the page holds no ${id}`);
  return JSON.parse(text) as T;
}

const none: Answer = {
  features: [],
  tankerloop: { version: "", scenario: "", meets_need: false, needed_flow_gpm: 0, reliability: 0, period_s: 0, cautions: [], attribution: "", findings: [], rigs: [], rig_cautions: [] },
};

/** The page is live: answers come from the server, one after the other. */
export const live = holds("live");
export let answer: Answer = holds("answer") ? read<Answer>("answer") : none;
export let about: About = live ? { units: "us", series: [] } : read<About>("about");
export let packed: Packed | null = live ? null : read<Packed | null>("map");

export function replaceAnswer(next: Answer | null): void {
  answer = next ?? none;
  about = { ...about, series: [] };
}
export const replaceAbout = (next: About): void => { about = next; };
export const replaceBackground = (next: Packed): void => { packed = next; };

/** Features of one layer. */
export function layer<L extends Properties["layer"]>(name: L): Feature<Extract<Properties, { layer: L }>>[] {
  return answer.features.filter((f) => f.properties.layer === name) as unknown as Feature<Extract<Properties, { layer: L }>>[];
}

/** Features of one layer that belong to an option. */
export function ofOption<L extends "dump_site" | "supply_line" | "staging" | "loop" | "leg" | "road_note">(
  name: L, option: number,
): Feature<Extract<Properties, { layer: L }>>[] {
  return layer(name).filter((f) => (f.properties as { option: number }).option === option);
}

/** All positions of a geometry. */
export function positions(coordinates: unknown): Position[] {
  if (!Array.isArray(coordinates)) return [];
  if (typeof coordinates[0] === "number") return [coordinates as Position];
  return coordinates.flatMap(positions);
}
