// Starts the browser without a network and keeps what it says.

import assert from "node:assert/strict";
import { execFileSync, spawn } from "node:child_process";
import { existsSync, mkdirSync, readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { dirname, join } from "node:path";
import { test } from "node:test";
import { fileURLToPath, pathToFileURL } from "node:url";
import { chromium } from "playwright-core";

export const root = join(dirname(fileURLToPath(import.meta.url)), "../..");
export const out = join(root, "target/browser");
mkdirSync(out, { recursive: true });

const binary = process.env.TANKERLOOP ?? join(process.env.CARGO_TARGET_DIR ?? join(root, "target"), "release/tankerloop");

/** Runs tankerloop; 1 means that no option meets the need, which is an answer too. */
export function tankerloop(...args) {
  if (!existsSync(binary)) throw new Error(`${binary} is not there: cargo build --release, or name one in TANKERLOOP`);
  try {
    return execFileSync(binary, args, { encoding: "utf8", stdio: ["ignore", "pipe", "pipe"] });
  } catch (error) {
    if (error.status === 1) return error.stdout;
    throw new Error(`tankerloop ${args.join(" ")}: ${error.stderr}`);
  }
}

/** Plans a scenario; the page's path and the answer. */
export function plan(scenario, name, ...flags) {
  const [page, answer] = [join(out, `${name}.html`), join(out, `${name}.geojson`)];
  tankerloop("plan", scenario, "--page", page, "-o", answer, "--quiet", ...flags);
  return { page, answer: JSON.parse(readFileSync(answer, "utf8")) };
}

/** Works out a zone; the page's path and the zone. */
export function zone(scenario, name, ...flags) {
  const [page, answer] = [join(out, `${name}.html`), join(out, `${name}.geojson`)];
  tankerloop("zone", scenario, "--page", page, "-o", answer, "--quiet", ...flags);
  return { page, answer: JSON.parse(readFileSync(answer, "utf8")) };
}

/** What axe-core finds wrong, one line each. The page's policy keeps scripts from being put in; evaluation by the driver is
 * not one. */
export async function violations(page) {
  await page.evaluate(axe);
  const { violations } = await page.evaluate(() => window.axe.run(document));
  return violations.map((v) => `${v.id}: ${v.help}; ${v.nodes.slice(0, 3).map((n) => `${n.html.slice(0, 160)} (${n.any[0]?.message ?? n.failureSummary})`).join(" | ")}`);
}
const axe = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");

export const county = join(root, "data/county/scenario.toml");

/** Features of a layer, of one option if it is given. */
export const layer = (answer, name, option) =>
  answer.features.map((f) => f.properties).filter((p) => p.layer === name && (option === undefined || p.option === option));

// Software drawing; and nothing that would reach for the network by itself.
const flags = [
  "--no-sandbox", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update",
  "--disable-sync", "--use-gl=angle", "--use-angle=swiftshader", "--enable-unsafe-swiftshader",
];

export const start = (...more) => chromium.launch({ executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium", args: [...flags, ...more] });

/**
 * Opens a page from its file with the network cut. `said` collects console messages of warning or worse,
 * errors and requests for anything but the file itself and what it holds.
 */
export async function open(browser, file, { width = 1366, height = 768, hash = "", bare = false, ...more } = {}) {
  const context = await browser.newContext({ viewport: { width, height }, offline: true, ...more });
  const page = await context.newPage();
  const own = pathToFileURL(file).href;
  const said = listen(page, own);
  await page.goto(own + hash);
  if (!bare) await page.waitForSelector("body.map-ready", { timeout: 60_000 });
  return { page, said, close: () => context.close() };
}

/** Starts `tankerloop serve` on a free port. */
export async function serve(scenario) {
  const child = spawn(binary, ["serve", scenario, "--port", "0"], { stdio: ["ignore", "pipe", "pipe"] });
  const at = await new Promise((found, failed) => {
    let said = "";
    const listen = (chunk) => {
      said += chunk;
      const address = /http:\/\/127\.0\.0\.1:\d+/.exec(said);
      if (address) found(address[0]);
    };
    child.stdout.on("data", listen);
    child.stderr.on("data", listen);
    child.on("exit", (code) => failed(new Error(`tankerloop serve ended with ${code}: ${said}`)));
    setTimeout(() => failed(new Error(`tankerloop serve names no address: ${said}`)), 60_000).unref();
  });
  return { at, stop: () => new Promise((done) => { child.on("exit", done); child.kill(); }) };
}

/** Visits a served page. `said` as with `open`, requests to its own server being what it is for. With `watch`, `window.seen` holds
 * what its status line and cards said one after the other. */
export async function visit(browser, address, { width = 1366, height = 768, watch = false } = {}) {
  const context = await browser.newContext({ viewport: { width, height }, acceptDownloads: true });
  const page = await context.newPage();
  const said = listen(page, new URL(address).origin);
  if (watch) {
    await page.addInitScript(() => {
      window.seen = [];
      new MutationObserver(() => {
        const now = { status: document.getElementById("status")?.textContent ?? "", pending: document.querySelectorAll("[data-key=not_simulated]").length };
        if (JSON.stringify(now) !== JSON.stringify(window.seen.at(-1))) window.seen.push(now);
      }).observe(document, { subtree: true, childList: true, characterData: true });
    });
  }
  await page.goto(address);
  await page.waitForSelector("body.map-ready", { timeout: 60_000 });
  return { page, said, close: () => context.close() };
}

/** Console messages of warning or worse, errors, and requests for anything but the page's own and what it holds. */
function listen(page, own) {
  const said = [];
  page.on("console", (m) => { if (["error", "warning"].includes(m.type()) && !/GPU stall|swiftshader|SwiftShader/.test(m.text())) said.push(`${m.type()}: ${m.text()}`); });
  page.on("pageerror", (e) => said.push(`error: ${e.stack}`));
  page.on("dialog", async (d) => { said.push(`dialog: ${d.message()}`); await d.dismiss(); });
  page.on("request", (r) => { if (!r.url().startsWith(own) && !/^(blob|data):/.test(r.url())) said.push(`request: ${r.url()}`); });
  return said;
}

/**
 * Tests of a page on a phone, a laptop and a wall: no violation of accessibility rules, nothing wider than the screen. `show` opens
 * it at a size; a picture of each is kept as `name`-size, and with PICTURES=1 the laptop's under `picture` for README.md.
 */
export function onScreens(name, show, picture) {
  for (const [screen, width, height] of [["phone", 390, 844], ["laptop", 1366, 768], ["wall", 2560, 1440]]) {
    test(`${screen}: no violation of accessibility rules, nothing wider than the screen; a picture is kept`, async () => {
      const { page, said, close } = await show({ width, height });
      await page.screenshot({ path: join(out, `${name}-${screen}.png`) });
      if (picture && process.env.PICTURES && screen === "laptop") await page.screenshot({ path: join(root, picture) });
      const wide = await page.evaluate(() => document.documentElement.scrollWidth);
      assert.ok(wide <= width, `${wide} px wide`);
      await page.locator("details").evaluateAll((all) => all.forEach((d) => { d.open = true; }));
      assert.deepEqual(await violations(page), []);
      assert.deepEqual(said, []);
      await close();
    });
  }
}

/** A flow, volume or time as shown, as a number: "1,234 gpm", "14:38 min". */
export function number(text) {
  const clock = /^(\d+):(\d\d) min/.exec(text);
  if (clock) return Number(clock[1]) * 60 + Number(clock[2]);
  const plain = /-?[\d,]+(\.\d+)?/.exec(text);
  if (!plain) throw new Error(`no number in "${text}"`);
  return Number(plain[0].replaceAll(",", ""));
}
