// Which face the page has is told by the data in it.

import { about, holds, live } from "./data";
import { paint } from "./palette";
import { setSystem } from "./units";

async function start(): Promise<void> {
  paint();
  setSystem(about.units);
  const { start: face } = live ? await import("./livepage") : holds("zone") ? await import("./zonepage") : await import("./answerpage");
  face();
}

void start();
