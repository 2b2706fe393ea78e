// What the roads of a zone are coloured by, and in which classes. A class has a style: colour, width and dash, so that it is
// told apart without colour too.

import { about, ceiling, indices, isSo, lengthOf, need, numberOf, textOf } from "./zone";
import { flow } from "./units";
import type { Colour } from "./palette";

/** Width in pixels at the usual size, dash in widths; a core is a light line along the middle. */
export interface Style { colour: Colour; width: number; dash?: [number, number]; core?: boolean }

export interface Class { label: () => string; style: Style }

export interface View {
  key: string;
  name: string;
  classes: Class[];
  classOf: (stretch: number) => number;
  /** The flow that is shown, and whether it meets the need. */
  gpm: (stretch: number) => number;
  meets: (stretch: number) => boolean;
}

/** NFPA 1142's steps, as src/zone/judge.rs has them. */
export const STEPS = [250, 500, 750, 1000] as const;

export const styles = {
  none: { colour: "flow0", width: 4, dash: [0.5, 1] },
  below250: { colour: "flow0", width: 5, dash: [1.2, 0.7] },
  from250: { colour: "flow1", width: 4, dash: [3, 0.8] },
  from500: { colour: "flow2", width: 2.6 },
  from750: { colour: "flow3", width: 4.4 },
  from1000: { colour: "flow4", width: 7, core: true },
} as const satisfies Record<string, Style>;

const flowClasses: Class[] = [
  { label: () => "no loop is open", style: styles.none },
  { label: () => `below ${flow(STEPS[0])}`, style: styles.below250 },
  ...([styles.from250, styles.from500, styles.from750] as Style[]).map((style, i): Class => ({
    label: () => `${flow(STEPS[i] ?? 0).split(" ")[0]} to ${flow(STEPS[i + 1] ?? 0)}`, style,
  })),
  { label: () => `from ${flow(STEPS[3])}`, style: styles.from1000 },
];

const flowClass = (gpm: number, none: boolean): number => (none ? 0 : 1 + STEPS.filter((step) => gpm >= step).length);

/** A change smaller than this is none, gallons per minute. */
const SAME_GPM = 5;

const changeClasses: Class[] = [
  { label: () => "no longer meets the need", style: styles.below250 },
  { label: () => "less", style: styles.from250 },
  { label: () => `within ${flow(SAME_GPM)}`, style: styles.from500 },
  { label: () => "more", style: styles.from750 },
  { label: () => "now meets the need", style: styles.from1000 },
];

const own: View = {
  key: "own", name: "Flow the fleet can hold at most", classes: flowClasses,
  classOf: (i) => flowClass(ceiling(i), textOf("bound_by", i) === "no-loop"),
  gpm: ceiling, meets: (i) => isSo("ceiling_meets_need", i),
};

function compared(name: string, key: string): View[] {
  const gpm = (i: number): number => numberOf(`${key}_ceiling_gpm`, i) ?? 0;
  const change = (i: number): number => gpm(i) - ceiling(i);
  // Figures are rounded to a tenth: where they are the same, so is what they meet.
  const meets = (i: number): boolean => (Math.abs(change(i)) < 0.05 ? own.meets(i) : gpm(i) >= need);
  return [
    { key: `flow-${key}`, name: `The same, ${name}`, classes: flowClasses, classOf: (i) => flowClass(gpm(i), gpm(i) === 0), gpm, meets },
    {
      key: `change-${key}`, name: `What changes: ${name}`, classes: changeClasses, gpm, meets,
      classOf: (i) => {
        if (own.meets(i) !== meets(i)) return meets(i) ? 4 : 0;
        return Math.abs(change(i)) < SAME_GPM ? 2 : change(i) < 0 ? 1 : 3;
      },
    },
  ];
}

export const views: View[] = [own, ...about.compared.flatMap(({ name, key }) => compared(name, key))];

/** Road by class of a view, metres. */
export function roadByClass(view: View, of: readonly number[] = indices): number[] {
  const metres = view.classes.map(() => 0);
  for (const i of of) {
    const k = view.classOf(i);
    metres[k] = (metres[k] ?? 0) + lengthOf(i);
  }
  return metres;
}

export const metresOf = (of: readonly number[]): number => of.reduce((sum, i) => sum + lengthOf(i), 0);

/** The classes of a view by number; that no loop is open is said only where it happens. */
export function classesThere(view: View): [number, Class][] {
  const metres = roadByClass(view);
  return [...view.classes.entries()].filter(([k, kind]) => kind.style !== styles.none || (metres[k] ?? 0) > 0);
}
