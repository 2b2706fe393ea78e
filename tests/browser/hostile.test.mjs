// Names that try to be markup, to be huge or to turn the text round: shown as they are, harmless.

import assert from "node:assert/strict";
import { mkdirSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { after, before, test } from "node:test";
import { layer, open, out, plan, root, start } from "./support.mjs";

const county = join(root, "data/county");
const folder = join(out, "hostile");
const names = [
  "</script><script>alert('site')</script>", "\"><img src=x onerror=alert('img')>", "<svg onload=alert(2)>", "{{constructor.constructor('alert(3)')()}}",
  "\u202Egnidnal riovreseR", "=HYPERLINK(\"http://example.invalid/\",\"x\")", `long ${"x".repeat(10_000)}`, "__proto__", "javascript:alert(4)",
];
let browser, file, answer;

before(async () => {
  mkdirSync(folder, { recursive: true });
  const sites = JSON.parse(readFileSync(join(county, "fill-sites.geojson"), "utf8"));
  sites.features.forEach((f, i) => {
    f.properties.name = names[i % names.length] + (i < names.length ? "" : ` ${i}`);
    f.properties.note = "<b onmouseover=alert(5)>note</b>";
  });
  writeFileSync(join(folder, "sites.geojson"), JSON.stringify(sites));
  const fleet = readFileSync(join(county, "fleet.toml"), "utf8").replaceAll('id = "T1"', "id = \"<i onclick=alert(6)>T1</i>\"");
  writeFileSync(join(folder, "fleet.toml"), fleet);
  const scenario = readFileSync(join(county, "scenario.toml"), "utf8")
    .replace('name = "Barn fire, farm road"', "name = \"<title>alert(7)</title>\"")
    .replace('"county.osm.pbf"', JSON.stringify(join(county, "county.osm.pbf")))
    .replace('["fill-sites.geojson", "extra-sites.csv"]', '["sites.geojson"]')
    .replace('"barn fire, hay and machinery"', "\"</h1><script>alert(8)</script>\"");
  writeFileSync(join(folder, "scenario.toml"), scenario);
  ({ page: file, answer } = plan(join(folder, "scenario.toml"), "hostile"));
  browser = await start();
});
after(async () => { await browser?.close(); });

test("hostile names are text and nothing else", async () => {
  const { page, said, close } = await open(browser, file, { width: 1366, height: 768 });
  assert.equal(await page.locator("h1").textContent(), "<title>alert(7)</title>");
  for (const { option } of layer(answer, "dump_site")) {
    await page.locator(`label[for=option-${option}]`).click();
    for (const sign of await page.locator(".sign").all()) await sign.focus();
    await page.locator("#facts details").evaluateAll((all) => all.forEach((d) => { d.open = true; }));
  }
  const text = await page.locator("body").textContent();
  const sites = layer(answer, "fill_site").map((p) => p.name);
  assert.ok(sites.length >= names.length);
  for (const name of sites) assert.ok(text.includes(name), name.slice(0, 60));
  assert.equal(await page.locator("img, iframe, b[onmouseover], i[onclick], svg[onload]").count(), 0);
  assert.equal(await page.evaluate(() => document.scripts.length), 4, "three blocks of data and the script");
  assert.ok((await page.evaluate(() => document.documentElement.scrollWidth)) <= 1366);
  await page.screenshot({ path: join(out, "hostile.png") });
  assert.deepEqual(said, []);
  await close();
});
