// Places of things that are not points.

import { gapAreas } from "./zone";

/** Where a gap is named: on the outline of its largest piece. */
export function gapPlace(i: number): [number, number] | null {
  const rings = (gapAreas[i] ?? []).map((polygon) => polygon[0] ?? []).sort((a, b) => b.length - a.length);
  const ring = rings[0] ?? [];
  return ring[Math.floor(ring.length / 2)] ?? null;
}
