// Unpacks the background of the map (src/output/backdrop.rs) into GeoJSON.

import type { Packed, Position } from "./data";

export type Line = Position[];
export interface Road { kind: string; name: string; closed: boolean; line: Line }
export interface Area { kind: string; name: string; rings: Line[] }
export interface Course { kind: string; name: string; line: Line }
export interface Settlement { kind: string; name: string; at: Position }
export interface Backdrop { roads: Road[]; areas: Area[]; courses: Course[]; settlements: Settlement[]; notes: string[] }

const degrees = (x: number, y: number): Position => [x / 1e5, y / 1e5];

/** A line from its first point, counted from `origin`, and its steps (src/output/walk.rs). */
export function steps(origin: Position, steps: number[]): Line {
  let [x, y] = origin;
  const points: Line = [];
  for (let i = 0; i + 1 < steps.length; i += 2) {
    x += steps[i] ?? 0;
    y += steps[i + 1] ?? 0;
    points.push(degrees(x, y));
  }
  return points;
}

export function unpack(packed: Packed | null): Backdrop {
  if (!packed) return { roads: [], areas: [], courses: [], settlements: [], notes: [] };
  const { origin } = packed;
  const name = (index: number): string => packed.names[index] ?? "";
  return {
    roads: packed.roads.map(([kind, n, closed, line]) => ({ kind, name: name(n), closed: closed === 1, line: steps(origin, line) })),
    areas: packed.areas.map(([kind, n, rings]) => ({ kind, name: name(n), rings: rings.map((ring) => steps(origin, ring)) })),
    courses: packed.courses.map(([kind, n, line]) => ({ kind, name: name(n), line: steps(origin, line) })),
    settlements: packed.settlements.map(([kind, n, [x, y]]) => ({ kind, name: name(n), at: degrees(origin[0] + x, origin[1] + y) })),
    notes: packed.notes,
  };
}

type Collection = GeoJSON.FeatureCollection;

export const asCollection = (features: GeoJSON.Feature[]): Collection => ({ type: "FeatureCollection", features });

export function asGeoJson(backdrop: Backdrop): Record<"roads" | "areas" | "courses" | "settlements", Collection> {
  return {
    roads: asCollection(backdrop.roads.filter((r) => r.line.length > 1).map(({ kind, name, closed, line }) => ({
      type: "Feature", properties: { kind, name, closed }, geometry: { type: "LineString", coordinates: line },
    }))),
    areas: asCollection(backdrop.areas.map(({ kind, name, rings }) => ({
      type: "Feature", properties: { kind, name }, geometry: { type: "Polygon", coordinates: rings.filter((r) => r.length > 3) },
    }))),
    courses: asCollection(backdrop.courses.filter((c) => c.line.length > 1).map(({ kind, name, line }) => ({
      type: "Feature", properties: { kind, name }, geometry: { type: "LineString", coordinates: line },
    }))),
    settlements: asCollection(backdrop.settlements.map(({ kind, name, at }) => ({
      type: "Feature", properties: { kind, name }, geometry: { type: "Point", coordinates: at },
    }))),
  };
}
