// Numbers as people read them. The answer is in US gallons, seconds and metres; what is shown follows
// the reader's choice, always with its unit.

export type System = "us" | "metric";

const LITRES_PER_GALLON = 3.785411784; // NIST Handbook 44, appendix C: 231 in³
const FEET_PER_METRE = 1 / 0.3048;
const METRES_PER_MILE = 1609.344;

let system: System = "us";
export const setSystem = (next: System): void => { system = next; };
export const getSystem = (): System => system;

const whole = (value: number): string => Math.round(value).toLocaleString("en-US");

export const flowUnit = (): string => (system === "us" ? "gpm" : "L/min");
export const flowNumber = (gpm: number): number => (system === "us" ? gpm : gpm * LITRES_PER_GALLON);
/** Gallons per minute from a number as shown. */
export const flowFrom = (shown: number): number => (system === "us" ? shown : shown / LITRES_PER_GALLON);
export const flow = (gpm: number): string => `${whole(flowNumber(gpm))} ${flowUnit()}`;

export const volumeUnit = (): string => (system === "us" ? "gal" : "L");
export const volumeNumber = (gal: number): number => (system === "us" ? gal : gal * LITRES_PER_GALLON);
export const volume = (gal: number): string => `${whole(volumeNumber(gal))} ${volumeUnit()}`;

export function distance(metres: number): string {
  if (system === "metric") return metres < 1000 ? `${whole(metres)} m` : `${(metres / 1000).toFixed(2)} km`;
  const miles = metres / METRES_PER_MILE;
  return miles < 0.2 ? `${whole(metres * FEET_PER_METRE)} ft` : `${miles.toFixed(2)} mi`;
}

/** Much road: miles or kilometres with one decimal. */
export const miles = (metres: number): string => (system === "us" ? `${grouped(metres / METRES_PER_MILE)} mi` : `${grouped(metres / 1000)} km`);
const grouped = (value: number): string => value.toLocaleString("en-US", { minimumFractionDigits: 1, maximumFractionDigits: 1 });

/** A short length, such as a width, never in miles. */
export const length = (metres: number): string =>
  system === "metric" ? `${metres.toFixed(1)} m` : `${(metres * FEET_PER_METRE).toFixed(0)} ft`;

/** Minutes and seconds. */
export function duration(seconds: number): string {
  const all = Math.round(seconds);
  return `${Math.floor(all / 60)}:${String(all % 60).padStart(2, "0")} min`;
}

/** The same where the figure may be none. */
export const timeOf = (seconds: number | null): string | null => (seconds === null ? null : duration(seconds));
export const flowIf = (gpm: number | null): string | null => (gpm === null ? null : flow(gpm));
