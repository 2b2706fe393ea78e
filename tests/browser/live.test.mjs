// The live page of `tankerloop serve`: what is asked, what comes, and that an address asks the same again.

import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { after, before, test } from "node:test";
import { hostile, names } from "./hostile.mjs";
import { county, layer, number, onScreens, out, plan, serve, start, tankerloop, visit } from "./support.mjs";

let browser, server, answer, file;

before(async () => {
  ({ answer } = plan(county, "live"));
  file = join(out, "live.geojson");
  server = await serve(county);
  browser = await start();
});
after(async () => {
  await browser?.close();
  await server?.stop();
});

const done = (page) => page.waitForFunction(() => /^Done\./.test(document.getElementById("status")?.textContent ?? ""), null, { timeout: 60_000 });
const again = async (page, act) => {
  await page.evaluate(() => { document.getElementById("status").textContent = ""; });
  await act();
  await done(page);
};
const flows = (page) => page.locator(".card .card-flow").allTextContents();
const ask = (body) => fetch(`${server.at}/api/plan`, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) });

/** The cards show the flows of an answer. */
async function shows(page, of) {
  const shown = (await flows(page)).map(number);
  const told = layer(of, "dump_site").map((d) => d.sustained_flow_gpm);
  assert.equal(shown.length, told.length);
  shown.forEach((gpm, i) => assert.ok(Math.abs(gpm - told[i]) <= 0.5, `option ${i + 1}: ${gpm}, not ${told[i]}`));
}

test("options come unsimulated first, then as plan has them", async () => {
  const { page, said, close } = await visit(browser, server.at, { watch: true });
  await done(page);
  await shows(page, answer);
  const seen = await page.evaluate(() => window.seen);
  assert.ok(seen.some((s) => /not yet simulated/.test(s.status) && s.pending > 0), JSON.stringify(seen));
  assert.ok(seen.at(-1).pending === 0 && /^Done/.test(seen.at(-1).status));
  assert.equal(await (await ask({})).text(), readFileSync(file, "utf8"), "the server's answer is not plan's");
  assert.deepEqual(said, []);
  await close();
});

test("an incident typed and one tapped; the address asks for it", async () => {
  const { page, said, close } = await visit(browser, server.at);
  await done(page);
  const [lon, lat] = answer.features.find((f) => f.properties.layer === "fill_site").geometry.coordinates;
  await page.locator("#incident-text").fill(`${lon}, ${lat}`);
  await again(page, () => page.keyboard.press("Enter"));
  assert.match(await page.locator("#incident-text-told").textContent(), /decimal degrees/);
  await shows(page, await (await ask({ incident: [lon, lat] })).json());
  assert.ok(page.url().includes(`at=${encodeURIComponent(`${lon.toFixed(6)},${lat.toFixed(6)}`)}`), page.url());
  // A tap in the middle of the map, which lies there after the map has followed.
  const before = page.url();
  await again(page, async () => {
    const box = await page.locator("#map").boundingBox();
    await page.mouse.click(box.x + box.width * 0.3, box.y + box.height * 0.3);
  });
  assert.notEqual(page.url(), before);
  // The other way round is refused with what to do.
  await page.locator("#incident-text").fill(`${lat}, ${lon}`);
  await page.keyboard.press("Enter");
  await page.waitForFunction(() => /longitude first/.test(document.getElementById("incident-text-told").textContent) && document.getElementById("incident-text").getAttribute("aria-invalid") === "true");
  await page.locator("#incident-text").fill("nowhere at all");
  await page.keyboard.press("Enter");
  await page.waitForFunction(() => /cannot be read/.test(document.getElementById("incident-text-told").textContent) && document.getElementById("incident-text").getAttribute("aria-invalid") === "true");
  // A refused request is the point of that; the browser tells it too.
  assert.deepEqual(said.filter((s) => !/40\d|422/.test(s)), []);
  await close();
});

test("a road closed by a tap changes the options; the link reopens it; the list opens the road again", async () => {
  const { page, said, close } = await visit(browser, server.at);
  await done(page);
  const first = await flows(page);
  // The middle of the longest straight of a loaded leg, alone on the screen.
  const { line, streets } = (() => {
    const leg = answer.features.find((f) => f.properties.layer === "leg" && f.properties.leg === "loaded");
    return { line: leg.geometry.coordinates, streets: leg.properties.streets };
  })();
  const length = (i) => Math.hypot(line[i + 1][0] - line[i][0], line[i + 1][1] - line[i][1]);
  const i = line.slice(1).map((_, k) => k).sort((a, b) => length(b) - length(a))[0];
  const at = [(line[i][0] + line[i + 1][0]) / 2, (line[i][1] + line[i + 1][1]) / 2];
  await page.locator("#tap-road").check();
  const spot = await page.evaluate(async (place) => {
    const map = window.tankerloopMap;
    map.jumpTo({ center: place, zoom: 15 });
    await new Promise((then) => map.once("idle", then));
    const { x, y } = map.project(place);
    const box = document.getElementById("map").getBoundingClientRect();
    return [box.x + x, box.y + y];
  }, at);
  await again(page, () => page.mouse.click(...spot));
  assert.equal(await page.locator("#closed-roads li").count(), 1);
  const way = await (await fetch(`${server.at}/api/way?lon=${at[0]}&lat=${at[1]}`)).json();
  assert.ok((await page.locator("#closed-roads li").textContent()).includes(way.name || String(way.way)), streets);
  const second = await (await ask({ closed_ways: [way.way] })).json();
  await shows(page, second);
  assert.notDeepEqual(await flows(page), first, "nothing has changed");
  assert.match(page.url(), /closed=/);
  assert.ok(await page.evaluate(() => new Promise((then) => {
    const map = window.tankerloopMap;
    map.once("idle", () => then(map.queryRenderedFeatures({ layers: ["shut"] }).length > 0));
    map.triggerRepaint();
  })), "the closed road is not drawn");

  const linked = await visit(browser, page.url());
  await done(linked.page);
  assert.deepEqual(await flows(linked.page), await flows(page));
  assert.equal(await linked.page.locator("#closed-roads li").count(), 1);
  await linked.page.screenshot({ path: join(out, "live-closed.png") });
  await linked.close();

  await again(page, () => page.locator("#closed-roads button").click());
  assert.deepEqual(await flows(page), first);
  assert.doesNotMatch(page.url(), /closed=/);
  assert.deepEqual([...said, ...linked.said], []);
  await close();
});

test("need, tankers, sites, month and water level by keyboard; a newer request ends the older", async () => {
  const { page, said, close } = await visit(browser, server.at);
  await done(page);
  await page.locator("#need").fill("300");
  await again(page, () => page.keyboard.press("Enter"));
  assert.match(await page.locator("#headline").textContent(), /300 gpm/);
  await page.locator("#tanker-0").focus();
  await again(page, () => page.keyboard.press("Space"));
  const { tankers, sites } = await (await fetch(`${server.at}/api/state`)).json();
  const rest = tankers.slice(1).map((t) => t.id);
  await shows(page, await (await ask({ need_gpm: 300, tankers: rest })).json());
  await page.locator(".ask-part summary").nth(1).click();
  const site = sites.findIndex((s) => s.in_service);
  await again(page, () => page.locator(`#site-${site}`).uncheck());
  await again(page, () => page.locator("#month").selectOption("1"));
  // Two changes at once: only the last is answered.
  await again(page, async () => { await page.locator("#water").selectOption("normal"); await page.locator("#need").fill("400"); await page.keyboard.press("Enter"); });
  const asked = { need_gpm: 400, tankers: rest, without: [sites[site].name], month: 1, water: "normal" };
  await shows(page, await (await ask(asked)).json());
  for (const part of ["need=400", "away=", "out=", "month=1", "water=normal"]) assert.ok(page.url().includes(part), `${part} in ${page.url()}`);
  await page.goBack().catch(() => null);
  assert.ok(!page.url().startsWith(server.at), "Back stays within the page");
  assert.deepEqual(said, []);
  await close();
});

test("a date and a dump site by keyboard and by tap; the link asks for both; either is let go", async () => {
  const { page, said, close } = await visit(browser, server.at);
  await done(page);
  const first = await flows(page);
  const dumps = answer.features.filter((f) => f.properties.layer === "dump_site");
  const [lon, lat] = dumps.at(-1).geometry.coordinates;
  await again(page, () => page.locator("#when").fill("2026-07-15T14:00"));
  await page.locator("#dump-text").fill(`${lon}, ${lat}`);
  await again(page, () => page.keyboard.press("Enter"));
  await shows(page, await (await ask({ when: "2026-07-15T14:00", dump: [lon, lat] })).json());
  assert.match(await page.locator("#dump-pinned").textContent(), new RegExp(lon.toFixed(5)));
  for (const part of ["when=2026-07-15T14%3A00", `dump=${encodeURIComponent(`${lon.toFixed(6)},${lat.toFixed(6)}`)}`]) assert.ok(page.url().includes(part), `${part} in ${page.url()}`);
  const linked = await visit(browser, page.url());
  await done(linked.page);
  assert.deepEqual(await flows(linked.page), await flows(page));
  assert.equal(await linked.page.locator("#when").inputValue(), "2026-07-15T14:00");
  await linked.close();
  // A month takes the place of the date.
  await again(page, () => page.locator("#month").selectOption("7"));
  assert.equal(await page.locator("#when").inputValue(), "");
  await shows(page, await (await ask({ month: 7, dump: [lon, lat] })).json());
  await again(page, () => page.locator("#month").selectOption(""));
  await again(page, () => page.getByRole("button", { name: "Any dump site" }).click());
  assert.deepEqual(await flows(page), first);
  // By tap, on the road where an option dumps.
  const place = dumps[0].geometry.coordinates;
  await page.locator("#tap-dump").check();
  const spot = await page.evaluate(async (at) => {
    const map = window.tankerloopMap;
    map.jumpTo({ center: at, zoom: 17 });
    await new Promise((then) => map.once("idle", then));
    const { x, y } = map.project(at);
    const box = document.getElementById("map").getBoundingClientRect();
    return [box.x + x + 30, box.y + y];
  }, place);
  await again(page, () => page.mouse.click(...spot));
  assert.ok(!(await page.locator("#dump-pinned").isHidden()));
  assert.match(page.url(), /dump=/);
  assert.deepEqual([...said, ...linked.said], []);
  await close();
});

test("the answer is kept as GeoJSON and page; flow in time on demand", async () => {
  const { page, said, close } = await visit(browser, server.at);
  await done(page);
  const [geojson] = await Promise.all([page.waitForEvent("download"), page.getByRole("button", { name: "GeoJSON" }).click()]);
  assert.equal(readFileSync(await geojson.path(), "utf8"), readFileSync(file, "utf8"));
  const [html] = await Promise.all([page.waitForEvent("download"), page.getByRole("button", { name: "Page", exact: true }).click()]);
  assert.match(readFileSync(await html.path(), "utf8"), /id="data-answer"/);
  // The sheets of the option chosen, with the server's roads: those of the command.
  await page.locator("label[for=option-2]").click();
  const [sheet] = await Promise.all([page.waitForEvent("download"), page.getByRole("button", { name: "Sheet", exact: true }).click()]);
  const told = join(out, "live-sheet.html");
  tankerloop("sheet", file, "-o", told, "--option", "2", "--roads", join(dirname(county), "county.osm.pbf"), "-q");
  assert.equal(readFileSync(await sheet.path(), "utf8"), readFileSync(told, "utf8"));
  await page.locator("#in-time").click();
  await page.waitForSelector(".plot canvas", { timeout: 60_000 });
  assert.ok(await page.locator("#rig pre").first().isVisible());
  assert.deepEqual(said, []);
  await close();
});

onScreens("live", async (size) => {
  const shown = await visit(browser, server.at, size);
  await done(shown.page);
  await shown.page.waitForTimeout(500);
  return shown;
}, "examples/live.png");

test("hostile names are text and nothing else", async () => {
  const other = await serve(hostile());
  const { page, said, close } = await visit(browser, other.at);
  await done(page);
  await page.locator("details").evaluateAll((all) => all.forEach((d) => { d.open = true; }));
  for (const sign of await page.locator(".sign").all()) await sign.focus();
  assert.equal(await page.locator("h1").textContent(), "<title>alert(7)</title>");
  const text = await page.locator("body").textContent();
  for (const name of names) assert.ok(text.includes(name.slice(0, 100)), name.slice(0, 60));
  assert.equal(await page.locator("img, iframe, b[onmouseover], i[onclick], svg[onload]").count(), 0);
  assert.ok((await page.evaluate(() => document.documentElement.scrollWidth)) <= 1366);
  await page.screenshot({ path: join(out, "live-hostile.png") });
  assert.deepEqual(said, []);
  await close();
  await other.stop();
});

test("a server that is gone is told", async () => {
  const other = await serve(county);
  const { page, close } = await visit(browser, other.at);
  await done(page);
  await other.stop();
  await page.locator("#month").selectOption("2");
  await page.waitForSelector("#trouble:not(:empty)");
  assert.match(await page.locator("#trouble").textContent(), /cannot be reached/);
  await close();
});
