// The page of one answer.

import { AnswerFace } from "./answerface";
import { unpack } from "./backdrop";
import { answer, layer, packed } from "./data";
import { byId, h } from "./dom";
import { Stage, foot, head } from "./frame";
import { firstChoice } from "./options";
import { flow } from "./units";

function header(again: () => void): void {
  const { tankerloop: t } = answer;
  const incident = layer("incident")[0]?.properties;
  const met = layer("dump_site").filter((f) => f.properties.meets_need).length;
  const all = layer("dump_site").length;
  document.title = `${t.scenario}: tanker shuttle`;
  const verdict = t.meets_need ? `${met} of ${all} options ${met === 1 ? "meets" : "meet"} it.` : "No option meets it.";
  head("Tanker shuttle plan", t.scenario, [
    `${incident?.name ?? "incident"} needs `, h("strong", { "data-key": "need" }, flow(t.needed_flow_gpm)),
    ` for ${Math.round(t.period_s / 60)} min at ${Math.round(t.reliability * 100)} % reliability. `,
    h("strong", {}, t.simulated === false ? "Not simulated: flows are ceilings." : verdict),
  ], again);
}

export function start(): void {
  const backdrop = unpack(packed);
  const again = (): void => {
    header(again);
    face.show(`option=${face.option}`, false);
    face.map?.engine.units();
  };
  header(again);
  foot(answer.tankerloop.cautions, answer.tankerloop.attribution, answer.tankerloop.version);
  const stage = new Stage(backdrop.notes);
  const face = new AnswerFace(stage, byId("options"), backdrop, (option) => history.replaceState(null, "", `#option=${option}`));
  face.show(location.hash);
  addEventListener("hashchange", () => { if (firstChoice(location.hash) !== face.option) face.show(location.hash); });
  stage.startMap(async () => {
    const { MapView } = await import("./map");
    face.map = new MapView(stage.canvas, backdrop, stage.tell);
    face.map.show(face.option);
    return face.map.engine.map;
  });
}
