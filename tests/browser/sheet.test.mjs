// The sheets on paper and on a screen, without a network: whole, legible, black and white, a card a sheet of paper.

import assert from "node:assert/strict";
import { readFileSync, writeFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { after, before, test } from "node:test";
import { getDocument } from "pdfjs-dist/legacy/build/pdf.mjs";
import { hostile } from "./hostile.mjs";
import { county, layer, onScreens, open, out, plan, root, start, tankerloop } from "./support.mjs";

let browser, answer;
const roads = join(dirname(county), "county.osm.pbf");
const papers = { letter: { width: 612, height: 792 }, a4: { width: 595.28, height: 841.89 } };
/** As src/output/sheet/mod.rs has them, in points. */
const edges = { side: 36, top: 36, bottom: 42 };
const file = (name, paper, ending) => join(out, `${name}-${paper}.${ending}`);

function sheets(name, paper, ...more) {
  for (const ending of ["html", "pdf"]) {
    const browserFlag = ending === "pdf" ? ["--browser", process.env.CHROMIUM ?? "/usr/bin/chromium"] : [];
    tankerloop("sheet", join(out, `${name}.geojson`), "-o", file(name, paper, ending), "--paper", paper, "-q", ...browserFlag, ...more);
  }
}

before(async () => {
  ({ answer } = plan(county, "sheet"));
  plan(county, "sheet-short", "--need", "900");
  plan(hostile(), "sheet-hostile");
  for (const paper of Object.keys(papers)) {
    sheets("sheet", paper, "--roads", roads);
    sheets("sheet-short", paper, "--units", "metric");
    sheets("sheet-hostile", paper);
  }
  browser = await start();
});
after(async () => { await browser?.close(); });

/** Text of each page of a PDF, by a reader of another project. */
async function pages(path) {
  const pdf = await getDocument({ data: new Uint8Array(readFileSync(path)), useSystemFonts: true, verbosity: 0 }).promise;
  const all = [];
  for (let n = 1; n <= pdf.numPages; n++) {
    const page = await pdf.getPage(n);
    const [, , width, height] = page.view;
    const { items } = await page.getTextContent();
    all.push({ width, height, text: items.map((i) => i.str).join(" ").replace(/\s+/g, " ") });
  }
  return all;
}

const PX = 96 / 72;
/** The sheet as the printer has it: as wide as the print, with the print's style. */
async function printed(name, paper) {
  const { width, height } = papers[paper];
  const size = { width: Math.round((width - 2 * edges.side) * PX), height: Math.round((height - edges.top - edges.bottom) * PX) };
  const shown = await open(browser, file(name, paper, "html"), { ...size, bare: true });
  await shown.page.emulateMedia({ media: "print" });
  return { ...shown, size };
}

for (const paper of Object.keys(papers)) {
  test(`${paper}: as many pages as the cards have sides, each named; the numbers are in the PDF`, async () => {
    const { page, said, size, close } = await printed("sheet", paper);
    // A card begins on a new page, and so does a driver's empty leg.
    const sides = await page.evaluate(() => [...document.querySelectorAll(".sheet")].flatMap((card) => {
      const [box, side] = [card.getBoundingClientRect(), card.querySelector(".side")?.getBoundingClientRect()];
      return side ? [side.top - box.top, box.bottom - side.top] : [box.height];
    }));
    const expected = sides.reduce((sum, high) => sum + Math.max(1, Math.ceil(high / size.height)), 0);
    const read = await pages(file("sheet", paper, "pdf"));
    console.log(`${paper}: ${read.length} pages; sides of ${sides.map((h) => (h / size.height).toFixed(2)).join(", ")} pages`);
    assert.equal(read.length, expected);
    assert.ok(sides[0] <= size.height, "the officer's page is one page");
    for (const { width, height } of read) {
      assert.ok(Math.abs(width - papers[paper].width) < 1.5 && Math.abs(height - papers[paper].height) < 1.5, `${width} x ${height}`);
    }
    const dump = layer(answer, "dump_site", 1)[0];
    assert.ok(read[0].text.includes(`${Math.round(dump.sustained_flow_gpm)} gpm`), read[0].text);
    read.forEach(({ text }, i) => assert.ok(text.includes(`page ${i + 1} of ${read.length}`) && text.includes("planning aid"), text));
    // Each driver's turns are on the pages that name the driver, the loaded ones first.
    for (const loop of layer(answer, "loop", 1)) {
      const legs = layer(answer, "leg", 1).filter((l) => l.tanker_ids === loop.tanker_ids && l.fill_site === loop.fill_site);
      for (const { id } of loop.crew) {
        const own = read.filter(({ text }) => text.includes(`Tanker ${id} · planning aid`)).map(({ text }) => text);
        assert.equal(own.length, 2, id);
        legs.forEach((leg, side) => {
          let from = 0;
          for (const { street } of leg.steps) {
            const at = own[side].indexOf(street, from);
            assert.ok(at >= 0, `${id}: ${street} after ${from} in ${own[side]}`);
            from = at + street.length;
          }
        });
      }
    }
    assert.deepEqual(said, []);
    await close();
  });

  test(`${paper}: the officer's page of an answer that falls short is one page too`, async () => {
    const { page, size, close } = await printed("sheet-short", paper);
    const { high, said } = await page.locator(".officer").evaluate((e) => ({ high: e.getBoundingClientRect().height, said: e.textContent }));
    assert.ok(high <= size.height, `${high / size.height} pages`);
    assert.match(said, /SHORT OF THE NEED/);
    assert.match(said, /Or \d+ more tankers like/);
    await close();
  });

  for (const name of ["sheet", "sheet-short", "sheet-hostile"]) {
    test(`${paper}, ${name}: nothing runs over its page, nothing is too small to read, nothing has a colour`, async () => {
      const { page, said, close } = await printed(name, paper);
      const found = await page.evaluate(() => {
        const wrong = [];
        const grey = (colour) => {
          const [r, g, b] = (/rgba?\(([^)]*)\)/.exec(colour)?.[1] ?? "0,0,0").split(",").map(Number);
          return r === g && g === b;
        };
        const size = (e) => parseFloat(getComputedStyle(e).fontSize) * 0.75;
        for (const e of document.querySelectorAll("main *")) {
          const style = getComputedStyle(e);
          const what = `${e.tagName} ${e.getAttribute("class") ?? ""} ${(e.textContent ?? "").slice(0, 40)}`;
          const card = e.closest(".sheet");
          const box = e.getBoundingClientRect();
          if (style.display === "none" || !card) continue;
          const frame = card.getBoundingClientRect();
          if (box.right > frame.right + 1 || box.left < frame.left - 1) if (!e.closest("svg") || e.tagName === "svg") wrong.push(`over the edge: ${what}`);
          for (const key of ["color", "backgroundColor", "borderTopColor", "borderBottomColor", "fill", "stroke"]) {
            if (!grey(style[key])) wrong.push(`${key} ${style[key]}: ${what}`);
          }
          const own = [...e.childNodes].some((n) => n.nodeType === 3 && n.textContent.trim());
          // In a picture a unit is a point where it is printed as wide as it is drawn.
          const points = e.ownerSVGElement ? parseFloat(style.fontSize) * (e.ownerSVGElement.getBoundingClientRect().width * 0.75 / e.ownerSVGElement.viewBox.baseVal.width) : size(e);
          if (own && points < 8.9) wrong.push(`${points} pt: ${what}`);
          if (e.matches("text") && e.closest("svg.map")) {
            const map = e.ownerSVGElement.getBoundingClientRect();
            if (box.left < map.left - 1 || box.right > map.right + 1 || box.top < map.top - 1 || box.bottom > map.bottom + 1) wrong.push(`off the map: ${what}`);
          }
        }
        const least = { ".turns .do": 16, ".turns .bearing": 15, ".turns .far": 15, ".watch li": 12, ".driver .approach": 12, ".weights td": 13, ".size": 12, ".driver .blank": 12, ".site .facts td": 11, ".way": 15 };
        for (const [which, points] of Object.entries(least)) {
          const all = [...document.querySelectorAll(which)];
          if (all.length === 0) wrong.push(`no ${which}`);
          for (const e of all) if (size(e) < points - 0.1) wrong.push(`${which} has ${size(e)} pt`);
        }
        if (document.images.length + document.scripts.length > 0) wrong.push("it holds more than text and drawings");
        return wrong;
      });
      assert.deepEqual(found, []);
      assert.deepEqual(said, []);
      await close();
    });
  }
}

test("loaded and empty are told apart without colour", async () => {
  const { page, close } = await printed("sheet", "letter");
  const style = (which) => page.locator(which).first().evaluate((e) => {
    const { strokeDasharray, strokeWidth, fill, borderTopStyle } = getComputedStyle(e);
    return { strokeDasharray, strokeWidth, fill, borderTopStyle };
  });
  const [loaded, empty] = [await style("svg.map path.loaded"), await style("svg.map path.empty")];
  assert.equal(loaded.strokeDasharray, "none");
  assert.notEqual(empty.strokeDasharray, "none");
  assert.ok(parseFloat(loaded.strokeWidth) > 1.4 * parseFloat(empty.strokeWidth));
  assert.notEqual((await style(".arrow-loaded")).fill, (await style(".arrow-empty")).fill);
  assert.equal((await style(".loaded-list")).borderTopStyle, "solid");
  assert.equal((await style(".empty-list")).borderTopStyle, "dashed");
  // One label a leg, with the bearing that the turn list has there.
  const legs = layer(answer, "leg", 1);
  const labels = await page.locator("#officer").locator("xpath=ancestor::section").locator("svg.map text.leg").allTextContents();
  assert.equal(labels.length, legs.length);
  for (const leg of legs) {
    const longest = leg.steps.reduce((a, b) => (b.distance_m > a.distance_m ? b : a));
    const bearing = `${leg.leg.toUpperCase()} ${String(longest.bearing_deg).padStart(3, "0")}°`;
    assert.ok(labels.some((label) => label.includes(bearing)), `${bearing} in ${labels}`);
  }
  await close();
});

test("a list that is longer than a page goes on with its head", async () => {
  // Each leg driven thirty times over: no road has so many turns.
  const long = JSON.parse(readFileSync(join(out, "sheet.geojson"), "utf8"));
  for (const { properties } of long.features) {
    if (properties.layer === "leg") properties.steps = Array.from({ length: 30 }, () => properties.steps).flat();
  }

  writeFileSync(join(out, "sheet-long.geojson"), JSON.stringify(long));
  sheets("sheet-long", "letter");
  const read = await pages(file("sheet-long", "letter", "pdf"));
  const { id } = layer(answer, "loop", 1)[0].crew[0];
  const own = read.filter(({ text }) => text.includes(`Tanker ${id} · planning aid`));
  const loaded = own.filter(({ text }) => /LOADED/.test(text) && /then drive/.test(text));
  assert.ok(loaded.length > 5, `${loaded.length} pages`);
  // Every page with turns has the head of the list it goes on with.
  for (const { text } of own.filter(({ text }) => /Turn (left|right) onto/.test(text))) assert.match(text, /(LOADED|EMPTY).*then drive/);
});

onScreens("sheet", (size) => open(browser, file("sheet", "letter", "html"), { ...size, bare: true }));

test("pictures of the sheets are kept", async () => {
  const { page, close } = await open(browser, file("sheet", "letter", "html"), { width: 880, height: 1200, bare: true, deviceScaleFactor: 1.5 });
  const shots = [];
  for (const which of [".officer", ".driver", ".dump"]) {
    const shot = await page.locator(which).first().screenshot({ path: join(out, `sheet${which.replace(".", "-")}.png`) });
    shots.push(`<img src="data:image/png;base64,${shot.toString("base64")}" style="width:470px;vertical-align:top;margin:8px">`);
  }
  if (process.env.PICTURES) {
    await page.setViewportSize({ width: 1480, height: 640 });
    const both = await browser.newPage({ viewport: { width: 1480, height: 660 } });
    await both.setContent(`<body style="margin:0;background:#ccc;white-space:nowrap">${shots.join("")}`);
    await both.screenshot({ path: join(root, "examples/sheet.png") });
    await both.close();
  }
  await close();
});
