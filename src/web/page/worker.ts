// The map engine's worker, from text: a page opened from a file may start no worker but a blob, and that
// one as a plain script. The engine takes an address that ends in .cjs for a plain script.

import { setWorkerCount, setWorkerUrl } from "maplibre-gl";

declare const WORKER_TEXT: string;

export function startWorkers(): void {
  setWorkerUrl(`${URL.createObjectURL(new Blob([WORKER_TEXT], { type: "text/javascript" }))}#.cjs`);
  setWorkerCount(Math.min(2, navigator.hardwareConcurrency || 1));
}
