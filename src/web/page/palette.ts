// All colours of the page, and why they hold.
//
// The two legs lie on either side of the blue to yellow axis, which readers who confuse red and green
// keep, and both are dark enough for 3:1 on land and water (WCAG 2.2, 1.4.11); text is 4.5:1 on what it
// stands on (1.4.3). Nothing is told by colour alone: the loaded leg is a full line with filled arrows,
// the empty one broken with open arrows; sites differ in shape and letter. Flow classes run from dark red over orange,
// grey and blue to dark blue, each the farther from grey the farther from the middle, and differ in width and
// dash (zoneviews.ts). tests/browser/palette.test.mjs
// computes all of it, and the legs as red-green blind readers see them.

export const colours = {
  ink: "#18222d",
  muted: "#4d5965",
  paper: "#ffffff",
  sheet: "#f2f0ea",
  rule: "#c8c4b8",
  edge: "#77746b",
  head: "#12324a",
  onHead: "#ffffff",
  accent: "#0a5ea8",
  tint: "#e4eff9",
  met: "#17653a",
  short: "#9c1c30",
  caution: "#6b4100",
  cautionTint: "#fff1cf",
  land: "#f6f3ea",
  wood: "#e1ead3",
  water: "#c3deee",
  shore: "#5b93b8",
  waterName: "#1d5273",
  road: "#ffffff",
  roadEdge: "#a79f8e",
  mainRoad: "#f5d58c",
  mainEdge: "#94783a",
  roadName: "#3a3a36",
  closed: "#9c1c30",
  loaded: "#9a3700",
  empty: "#0b5fb3",
  supply: "#5d2a87",
  drawn: "#18222d",
  offered: "#a8c9e6",
  offeredEdge: "#2f74ab",
  level: "#d7e6c3",
  levelEdge: "#4d7326",
  flow0: "#701018",
  flow1: "#b8520f",
  flow2: "#74786c",
  flow3: "#1c7ac6",
  flow4: "#141f6a",
} as const;

export type Colour = keyof typeof colours;

/** What is written on what (1.4.3, 4.5:1). */
export const texts: [Colour, Colour][] = [
  ["ink", "paper"], ["ink", "sheet"], ["ink", "tint"], ["muted", "paper"], ["muted", "sheet"], ["muted", "tint"],
  ["onHead", "head"], ["accent", "paper"], ["met", "paper"], ["met", "tint"], ["short", "paper"], ["short", "tint"],
  ["caution", "paper"], ["caution", "cautionTint"], ["ink", "cautionTint"], ["waterName", "water"], ["waterName", "land"],
  ["roadName", "road"], ["roadName", "land"], ["roadName", "mainRoad"], ["paper", "loaded"], ["paper", "empty"],
  ["paper", "supply"], ["paper", "caution"],
];

/** What must be made out against what (1.4.11, 3:1). */
export const marks: [Colour, Colour][] = [
  ["loaded", "land"], ["loaded", "road"], ["loaded", "mainRoad"], ["loaded", "wood"], ["loaded", "water"],
  ["empty", "land"], ["empty", "road"], ["empty", "mainRoad"], ["empty", "wood"], ["empty", "water"],
  ["supply", "land"], ["supply", "road"], ["supply", "wood"], ["closed", "land"], ["edge", "paper"], ["edge", "sheet"],
  ["accent", "tint"], ["accent", "sheet"], ["drawn", "offered"], ["drawn", "paper"], ["offeredEdge", "paper"], ["levelEdge", "paper"],
  ["levelEdge", "level"],
  ...(["flow0", "flow1", "flow2", "flow3", "flow4"] as const).flatMap((flow) =>
    (["land", "road", "wood", "water", "paper"] as const).map((ground): [Colour, Colour] => [flow, ground])),
];

function channels(hex: string): [number, number, number] {
  const at = (i: number): number => {
    const c = parseInt(hex.slice(i, i + 2), 16) / 255;
    return c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4;
  };
  return [at(1), at(3), at(5)];
}

/** Relative luminance (WCAG 2.2, definition). */
export function luminance(hex: string): number {
  const [r, g, b] = channels(hex);
  return 0.2126 * r + 0.7152 * g + 0.0722 * b;
}

/** Contrast ratio (WCAG 2.2, definition), 1 to 21. */
export function contrast(a: string, b: string): number {
  const [light, dark] = [luminance(a), luminance(b)].sort((x, y) => y - x) as [number, number];
  return (light + 0.05) / (dark + 0.05);
}

/** Gives the style sheet its colours: --ink, --paper and so on. */
export function paint(): void {
  for (const [name, value] of Object.entries(colours)) {
    const property = name.replace(/[A-Z]/g, (c) => `-${c.toLowerCase()}`);
    document.documentElement.style.setProperty(`--${property}`, value);
  }
}
