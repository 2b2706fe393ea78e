// The demo page in a browser without a network: what it shows is what the answer says.

import assert from "node:assert/strict";
import { statSync } from "node:fs";
import { join } from "node:path";
import { after, before, test } from "node:test";
import { county, layer, number, onScreens, open, out, plan, start } from "./support.mjs";

let browser, file, answer;

before(async () => {
  ({ page: file, answer } = plan(county, "demo"));
  browser = await start();
});
after(async () => { await browser?.close(); });

test("the page is small and loads nothing", async () => {
  const bytes = statSync(file).size;
  assert.ok(bytes < 4_000_000, `${bytes} bytes`);
  // A first one fills the caches of browser and system.
  await (await open(browser, file)).close();
  const { page, said, close } = await open(browser, file);
  const marks = await page.evaluate(() => Object.fromEntries(
    [...performance.getEntriesByType("paint"), ...performance.getEntriesByType("mark")].map((e) => [e.name, Math.round(e.startTime)])));
  console.log(`demo page: ${bytes} bytes; options, numbers and drawing seen after ${marks["first-contentful-paint"]} ms, moving map after ${marks["map-drawn"]} ms`);
  assert.deepEqual(said, []);
  await close();
});

test("an option picked by keyboard is shown everywhere", async () => {
  const { page, said, close } = await open(browser, file);
  const options = layer(answer, "dump_site");
  assert.equal(await page.locator(".card").count(), options.length);
  await page.locator("#option-1").focus();
  for (const d of options) {
    if (d.option > 1) await page.keyboard.press("ArrowDown");
    assert.equal(await page.locator("input[name=option]:checked").inputValue(), String(d.option));
    assert.equal(await page.locator("#facts-title").textContent(), `Option ${d.option}`);
    const read = async (scope, key) => number(await page.locator(`${scope} [data-key=${key}]`).first().textContent());
    for (const scope of ["#facts", `.card[data-option="${d.option}"]`]) {
      for (const key of ["sustained_flow_gpm", "needed_flow_gpm"]) {
        assert.ok(Math.abs((await read(scope, key)) - d[key]) <= 0.5, `${scope} ${key}`);
      }
      assert.ok(Math.abs((await read(scope, "sustained_from_s")) - d.sustained_from_s) <= 0.5, scope);
      assert.ok((await page.locator(`${scope} [data-key=limiter]`).first().textContent()).startsWith(d.limiter));
    }
    for (const key of ["ceiling_flow_gpm", "one_tanker_lost_flow_gpm", "first_water_s", "tank_room_gal", "unknown_weight_bridges"]) {
      assert.ok(Math.abs((await read("#facts", key)) - d[key]) <= 0.5, key);
    }
    assert.match(await page.locator("#facts [data-key=meets_need], #facts .verdict").first().textContent(), d.meets_need ? /meets/ : /short/);
    const loops = layer(answer, "loop", d.option);
    assert.equal(await page.locator("#facts table tbody tr").count(), loops.length);
    const legs = layer(answer, "leg", d.option);
    const shown = await page.locator("#facts .turns").evaluateAll((all) => all.map((e) => e.querySelectorAll("li").length));
    assert.deepEqual(shown, legs.map((l) => l.steps.length));
    assert.equal(await page.locator("#facts .notes li").count(), layer(answer, "road_note", d.option).length);
    assert.ok((await page.locator("#map-words").textContent()).includes(d.road));
  }
  assert.deepEqual(said, []);
  await close();
});

/** What the engine has drawn, by counting features on the screen. */
const drawn = (page, layers) => page.evaluate(async (ids) => {
  const map = window.tankerloopMap;
  if (!map.loaded() || map.isMoving()) await new Promise((done) => map.once("idle", done));
  const seen = (id) => new Set(map.queryRenderedFeatures({ layers: [id] }).map((f) => `${f.properties.index ?? ""}${f.properties.name ?? ""}`)).size;
  return Object.fromEntries(ids.map((id) => [id, seen(id)]));
}, layers);

test("the map draws the legs, roads and signs of the option", async () => {
  const { page, said, close } = await open(browser, file, { width: 1600, height: 1200 });
  for (const { option } of layer(answer, "dump_site")) {
    await page.locator(`label[for=option-${option}]`).click();
    await page.evaluate(() => new Promise((done) => { const m = window.tankerloopMap; m.once("idle", done); m.triggerRepaint(); }));
    const counts = await drawn(page, ["leg-loaded", "leg-empty", "arrow-loaded", "arrow-empty", "supply", "small", "middle", "water"]);
    const loops = layer(answer, "loop", option).length;
    for (const leg of ["leg-loaded", "leg-empty", "arrow-loaded", "arrow-empty"]) assert.equal(counts[leg], loops, `option ${option}: ${leg}`);
    assert.equal(counts.supply, 1);
    assert.ok(counts.small > 10 && counts.middle > 0 && counts.water > 0, JSON.stringify(counts));
    const sites = new Set(layer(answer, "loop", option).map((l) => l.fill_site));
    const signs = async (kind) => page.locator(`.sign-${kind}`).count();
    assert.equal(await signs("fill"), sites.size);
    assert.equal(await signs("unused"), layer(answer, "fill_site").length - sites.size);
    assert.equal(await signs("note"), layer(answer, "road_note", option).length);
    assert.equal(await signs("staging"), layer(answer, "staging", option).length);
    assert.equal(await signs("dump"), 1);
    assert.equal(await signs("incident"), 1);
  }
  assert.deepEqual(said, []);
  await close();
});

test("all of the background is drawn", async () => {
  const { page, said, close } = await open(browser, file, { width: 1600, height: 1200 });
  const { expected, seen } = await page.evaluate(async () => {
    const packed = JSON.parse(document.getElementById("data-map").textContent);
    const map = window.tankerloopMap;
    const names = (of) => packed.roads.filter(([kind]) => of.includes(kind)).map(([, name]) => packed.names[name]);
    map.fitBounds(packed.bbox, { duration: 0 });
    await new Promise((done) => map.once("idle", done));
    const on = (id) => map.queryRenderedFeatures({ layers: [id] }).map((f) => f.properties.name);
    const sorted = (list) => [...new Set(list)].sort();
    const wet = packed.areas.filter(([kind]) => kind === "water").map(([, name]) => packed.names[name]);
    return {
      expected: { main: sorted(names(["motorway", "trunk", "primary", "secondary"])), middle: sorted(names(["tertiary"])), water: sorted(wet), rivers: sorted(packed.courses.filter(([k]) => k === "river").map(([, n]) => packed.names[n])) },
      seen: { main: sorted(on("main")), middle: sorted(on("middle")), water: sorted(on("water")), rivers: sorted(on("rivers")) },
    };
  });
  assert.ok(expected.main.length > 1 && expected.middle.length > 3, JSON.stringify(expected));
  assert.deepEqual(seen, expected);
  assert.deepEqual(said, []);
  await close();
});

test("pointing at a leg or a sign tells what it is", async () => {
  const { page, said, close } = await open(browser, file);
  const site = layer(answer, "loop", 1)[0].fill_site;
  await page.locator(`.sign-fill`, { hasText: site }).focus();
  assert.ok((await page.locator("#detail").textContent()).includes(site));
  await page.locator("#detail").waitFor();
  // The middle of a loaded leg, where it is on the screen.
  const leg = answer.features.find((f) => f.properties.layer === "leg" && f.properties.leg === "loaded");
  const at = leg.geometry.coordinates[Math.floor(leg.geometry.coordinates.length / 2)];
  const spot = await page.evaluate((place) => {
    const { x, y } = window.tankerloopMap.project(place);
    const box = document.getElementById("map").getBoundingClientRect();
    return [box.x + x, box.y + y];
  }, at);
  await page.mouse.click(...spot);
  assert.match(await page.locator("#detail .detail-title").textContent(), /^Loaded|^Empty/);
  assert.deepEqual(said, []);
  await close();
});

test("units are the reader's choice", async () => {
  const { page, close } = await open(browser, file);
  await page.locator("#units").selectOption("metric");
  const flow = await page.locator("#facts [data-key=sustained_flow_gpm]").textContent();
  assert.match(flow, /L\/min$/);
  // NIST Handbook 44: 3.785411784 L in a US gallon.
  assert.ok(Math.abs(number(flow) - layer(answer, "dump_site", 1)[0].sustained_flow_gpm * 3.785411784) <= 0.5);
  await close();
});

test("the chart's table adds up to what is drawn", async () => {
  const { page, close } = await open(browser, file);
  await page.locator("#time summary").click();
  const d = layer(answer, "dump_site", 1)[0];
  // Never more than the sustained flow; and after an hour, when all runs draw and few have run dry (1 in 10 may by
  // the end of the period), hardly less.
  const rows = await page.locator("#time tbody tr").evaluateAll((all) => all.map((row) => [...row.children].map((cell) => cell.textContent)));
  for (const [, , drawn] of rows) assert.ok(number(drawn) <= d.sustained_flow_gpm + 0.5, drawn);
  const hour = rows.find(([to]) => to === "60 min");
  assert.ok(number(hour[2]) > d.sustained_flow_gpm * 0.98, hour.join("; "));
  const arrivals = (await page.locator("#time tbody").textContent()).match(/ at \d/g) ?? [];
  assert.ok(arrivals.length >= d.tankers, "every tanker arrives");
  // The plots themselves: three, with something drawn on each.
  const inked = await page.locator(".plot canvas").evaluateAll((all) => all.map((c) => {
    const data = c.getContext("2d").getImageData(0, 0, c.width, c.height).data;
    return new Uint32Array(data.buffer).filter((pixel) => pixel !== 0).length;
  }));
  assert.equal(inked.length, 3);
  assert.ok(inked.every((n) => n > 500), inked.join());
  await close();
});

onScreens("demo", (size) => open(browser, file, size), "examples/page.png");

test("an answer that falls short says so and what to call for; metric units by the flag", async () => {
  const short = plan(county, "short", "--need", "900", "--units", "metric");
  assert.ok(!short.answer.tankerloop.meets_need && short.answer.tankerloop.call);
  const { page, said, close } = await open(browser, short.page, { hash: "#option=2" });
  assert.match(await page.locator("#head").textContent(), /No option meets it/);
  assert.equal(await page.locator("input[name=option]:checked").inputValue(), "2");
  assert.equal(await page.locator(".card .verdict.short").count(), layer(short.answer, "dump_site").length);
  assert.match(await page.locator("#facts .call").textContent(), /What to call for.+/);
  assert.match(await page.locator("#head [data-key=need]").textContent(), /^3,407 L\/min$/); // 900 gal of 3.7854 L
  assert.deepEqual(said, []);
  await close();
});

test("without WebGL the drawing and the tables stand in", async () => {
  const poor = await start("--disable-gpu", "--disable-3d-apis");
  const { page, close } = await open(poor, file, { bare: true });
  await page.waitForSelector("body.no-map", { timeout: 60_000 });
  assert.ok(await page.locator("#drawing svg.sketch").isVisible());
  assert.match(await page.locator("#detail").textContent(), /cannot draw the moving map/);
  await page.screenshot({ path: join(out, "no-webgl.png") });
  await close();
  await poor.close();
});

test("on paper: the drawing, all options, one column", async () => {
  const { page, close } = await open(browser, file);
  await page.emulateMedia({ media: "print" });
  assert.ok(await page.locator("#drawing svg.sketch").isVisible());
  assert.ok(!(await page.locator("#map").isVisible()));
  // Notes stand in it by the numbers of their list.
  assert.equal(await page.locator("#drawing svg.sketch text", { hasText: /^\d+$/ }).count(), layer(answer, "road_note", 1).length);
  // Paper narrower than the screen cuts nothing off the chart; measured before the page draws it anew.
  const [room, charts] = await page.evaluate(() => {
    const plots = document.querySelector(".plots");
    plots.style.width = "480px";
    const right = (e) => e.getBoundingClientRect().right;
    const found = [right(plots), [...plots.querySelectorAll("canvas")].map(right)];
    plots.style.width = "";
    return found;
  });
  assert.ok(charts.length >= 3 && charts.every((right) => right <= room + 1), `${charts} in ${room}`);
  await page.pdf({ path: join(out, "demo.pdf"), format: "Letter" });
  await close();
});
