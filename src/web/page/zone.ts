// A zone as src/output/zone_page.rs packs it: stretches in columns, lines as steps.

import { steps } from "./backdrop";
import type { Line } from "./backdrop";
import type { FillSite, Finding, Position } from "./data";
import { read } from "./data";

type Column = { plain: (number | boolean | null)[] } | { text: (number | number[] | null)[] };

export interface Gap {
  gap: number; stretches: number; road_m: number; buildings: number | null; least_ceiling_gpm: number; most_ceiling_gpm: number; missing_gpm_km: number;
  area: number[][][];
}
export interface Proposal {
  rank: number; name: string; kind: string; flow_gpm: number | null; volume_gal: number | null; verified: boolean; told: string | null; note: string;
  gain_gpm_km: number; road_brought_to_need_m: number; at: Position;
}
export interface Site extends FillSite { basis: string | null; told: string | null; at: Position }
export interface Sample {
  stretches: number; sustained_of_ceiling_least: number; sustained_of_ceiling_median: number; sustained_of_ceiling_most: number;
  need_met_by_ceiling_only: number;
}

interface Packed {
  tankerloop: {
    version: string; scenario: string; needed_flow_gpm: number; period_s: number; reliability: number; stretches: number;
    summary: { road_m: number; no_loop_m: number; ceiling_meets_need_m: number; buildings: number | null; buildings_in_gaps: number | null; sample: Sample | null };
    compared: { name: string; key: string }[]; cautions: string[]; attribution: string; findings: Finding[];
  };
  bbox?: [number, number, number, number];
  origin: Position;
  lines: number[][];
  stretches: { columns: Record<string, Column>; texts: string[] };
  gaps: Gap[];
  proposals: Proposal[];
  fill_sites: Site[];
}

const packed: Packed = read<Packed>("zone");

export const about = packed.tankerloop;
export const need = about.needed_flow_gpm;
export const bbox = packed.bbox;
export const gaps: Gap[] = packed.gaps;
export const proposals: Proposal[] = packed.proposals;
export const sites: Site[] = packed.fill_sites;
export const count: number = packed.lines.length;
export const lines: Line[] = packed.lines.map((line) => steps(packed.origin, line));
/** Of each gap its polygons, of each polygon its rings. */
export const gapAreas: Line[][][] = gaps.map((g) => g.area.map((polygon) => polygon.map((ring) => steps(packed.origin, ring))));

const { columns, texts } = packed.stretches;

function column(key: string): Column | undefined {
  return Object.hasOwn(columns, key) ? columns[key] : undefined;
}

/** A number of a stretch, or nothing. */
export function numberOf(key: string, stretch: number): number | null {
  const found = column(key);
  const value = found && "plain" in found ? found.plain[stretch] : null;
  return typeof value === "number" ? value : null;
}

export function isSo(key: string, stretch: number): boolean {
  const found = column(key);
  return found !== undefined && "plain" in found && found.plain[stretch] === true;
}

export function textOf(key: string, stretch: number): string {
  const found = column(key);
  const value = found && "text" in found ? found.text[stretch] : null;
  return typeof value === "number" ? texts[value] ?? "" : "";
}

export function textsOf(key: string, stretch: number): string[] {
  const found = column(key);
  const value = found && "text" in found ? found.text[stretch] : null;
  return Array.isArray(value) ? value.map((i) => texts[i] ?? "") : [];
}

export const ceiling = (stretch: number): number => numberOf("ceiling_gpm", stretch) ?? 0;
export const road = (stretch: number): string => textOf("road", stretch) || `unnamed road (way ${numberOf("way", stretch) ?? "?"})`;
export const lengthOf = (stretch: number): number => numberOf("length_m", stretch) ?? 0;
/** Nothing where the road file tells of no building. */
export const buildings = (count: number | null): string | null => (count === null ? null : count === 1 ? "1 building" : `${count.toLocaleString("en-US")} buildings`);
export const indices: number[] = Array.from({ length: count }, (_, i) => i);

export function middle(stretch: number): Position {
  const line = lines[stretch] ?? [];
  const [a, b] = [line[Math.floor((line.length - 1) / 2)], line[Math.floor(line.length / 2)]];
  return a && b ? [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2] : [0, 0];
}
