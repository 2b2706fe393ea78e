// Names that try to be markup, to be huge or to turn the text round: shown as they are, harmless.

import assert from "node:assert/strict";
import { join } from "node:path";
import { after, before, test } from "node:test";
import { hostile, names } from "./hostile.mjs";
import { layer, open, out, plan, start, zone } from "./support.mjs";

let browser, file, answer;

before(async () => {
  ({ page: file, answer } = plan(hostile(), "hostile"));
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

test("nor are they in a zone", async () => {
  const made = zone(hostile(), "hostile-zone", "--longest", "1000", "--sample", "1");
  const { page, said, close } = await open(browser, made.page, { width: 1366, height: 768 });
  await page.locator("details").evaluateAll((all) => all.forEach((d) => { d.open = true; }));
  for (const sign of await page.locator(".sign").all()) await sign.focus();
  await page.locator("#facts .go").first().click();
  const text = await page.locator("body").textContent();
  for (const { name } of layer(made.answer, "fill_site")) assert.ok(text.includes(name), name.slice(0, 60));
  assert.equal(await page.locator("img, iframe, b[onmouseover], i[onclick], svg[onload]").count(), 0);
  assert.ok((await page.evaluate(() => document.documentElement.scrollWidth)) <= 1366);
  await page.screenshot({ path: join(out, "hostile-zone.png") });
  assert.deepEqual(said, []);
  await close();
});
