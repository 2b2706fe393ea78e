// One request at a time: a newer one ends the older. What comes is shown as it comes.

import type { Answer, Finding } from "./data";
import * as api from "./liveapi";
import type { Request } from "./liveapi";
import { flow } from "./units";

export interface Shows {
  status: (text: string, working: boolean) => void;
  show: (answer: Answer) => void;
  refused: (message: string, findings: Finding[]) => void;
}

/** Changes that follow each other faster than this are one. */
const PAUSE_MS = 80;

export class LivePlan {
  private running: AbortController | null = null;
  private timer = 0;

  constructor(private readonly shows: Shows) {}

  start(request: Request): void {
    this.running?.abort();
    clearTimeout(this.timer);
    const own = this.running = new AbortController();
    this.shows.status("Working …", true);
    this.timer = window.setTimeout(() => { void this.run(request, own); }, PAUSE_MS);
  }

  private async run(request: Request, own: AbortController): Promise<void> {
    try {
      for await (const event of api.plan(request, own.signal)) {
        if (own.signal.aborted) return;
        this.take(event);
      }
    } catch (error) {
      if (own.signal.aborted) return;
      const refused = error instanceof api.Refused ? error : new api.Refused("the connection to the server broke off");
      if (refused.retryAfter !== null) {
        this.shows.status(`The server is busy; asked again in ${refused.retryAfter} s.`, true);
        this.timer = window.setTimeout(() => { void this.run(request, own); }, refused.retryAfter * 1000);
        return;
      }
      this.shows.status("", false);
      this.shows.refused(refused.message, refused.findings);
    }
  }

  /** Flows of the options as they are simulated; the rest of each follows with the answer. */
  private first: Answer | null = null;

  private take(event: api.Event): void {
    if (event.event === "refused") {
      this.shows.status("", false);
      return this.shows.refused(event.error, event.findings ?? []);
    }
    if (event.event === "simulated") {
      this.shows.status(`Simulated ${event.done} of ${event.of} …`, true);
      const option = this.first?.features.map((f) => f.properties).find((p) => p.layer === "dump_site" && p.option === event.option);
      if (this.first && option?.layer === "dump_site" && event.sustained_flow_gpm !== null) {
        option.sustained_flow_gpm = event.sustained_flow_gpm;
        option.meets_need = event.sustained_flow_gpm >= option.needed_flow_gpm;
        this.shows.show(this.first);
      }
      return;
    }
    this.first = event.event === "ceilings" ? event.answer : null;
    const options = event.answer.features.flatMap((f) => (f.properties.layer === "dump_site" ? [f.properties] : []));
    const best = options[0];
    const many = options.length === 1 ? "One option" : `${options.length || "No"} options`;
    if (event.event === "ceilings") this.shows.status(`${many}, not yet simulated …`, true);
    else this.shows.status(`Done. ${many}${best?.sustained_flow_gpm == null ? "" : `; the best holds ${flow(best.sustained_flow_gpm)}`}.`, false);
    this.shows.show(event.answer);
  }
}
