// The map engine's worker, from text: a page opened from a file may start no worker but a blob.

import { setWorkerCount, setWorkerUrl } from "maplibre-gl";

declare const WORKER_TEXT: string;

export function startWorkers(): void {
  setWorkerUrl(URL.createObjectURL(new Blob([WORKER_TEXT], { type: "text/javascript" })));
  setWorkerCount(Math.min(2, navigator.hardwareConcurrency || 1));
}
