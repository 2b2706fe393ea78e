// The colours hold what palette.ts says of them, by WCAG 2.2's own formulas.

import assert from "node:assert/strict";
import { join } from "node:path";
import { test } from "node:test";
import { build } from "esbuild";
import { out, root } from "./support.mjs";

const outfile = join(out, "palette.mjs");
await build({ entryPoints: [join(root, "src/web/page/palette.ts")], outfile, format: "esm", bundle: true });
const { colours, texts, marks, contrast } = await import(outfile);

test("the formula: black on white is 21, grey #767676 on white 4.54 (known from WCAG 2.2's own notes)", () => {
  assert.ok(Math.abs(contrast("#000000", "#ffffff") - 21) < 1e-9);
  assert.ok(Math.abs(contrast("#767676", "#ffffff") - 4.54) < 0.01);
});

for (const [what, pairs, least] of [["text (1.4.3)", texts, 4.5], ["lines and signs (1.4.11)", marks, 3]]) {
  test(`${what}: at least ${least}:1`, () => {
    assert.ok(pairs.length > 10);
    const low = pairs.map(([a, b]) => [a, b, contrast(colours[a], colours[b])]).filter(([, , ratio]) => ratio < least);
    assert.deepEqual(low.map(([a, b, ratio]) => `${a} on ${b}: ${ratio.toFixed(2)}`), []);
  });
}

// Machado, Oliveira and Fernandes (2009), severity 1.0, on linear RGB; the figures are from memory.
const BLIND = {
  protan: [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]],
  deutan: [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.01182, 0.04294, 0.968881]],
};

const linear = (hex) => [1, 3, 5].map((i) => {
  const c = parseInt(hex.slice(i, i + 2), 16) / 255;
  return c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4;
});

/** CIE L*a*b* from linear sRGB, D65. */
function lab([r, g, b]) {
  const f = (t) => (t > 0.008856 ? Math.cbrt(t) : 7.787 * t + 16 / 116);
  const x = f((0.4124 * r + 0.3576 * g + 0.1805 * b) / 0.9505);
  const y = f(0.2126 * r + 0.7152 * g + 0.0722 * b);
  const z = f((0.0193 * r + 0.1192 * g + 0.9505 * b) / 1.089);
  return [116 * y - 16, 500 * (x - y), 200 * (y - z)];
}

const apart = (a, b) => Math.hypot(...lab(a).map((v, i) => v - lab(b)[i]));

// Each flow class from every other, and from the roads below them.
const classes = ["flow0", "flow1", "flow2", "flow3", "flow4"];
const flows = classes.flatMap((a, i) => [...classes.slice(i + 1), "land", "road"].map((b) => [a, b]));

for (const [kind, matrix] of Object.entries(BLIND)) {
  test(`${kind}: legs, flow classes and the ground stay far apart`, () => {
    const seen = (name) => matrix.map((row) => Math.min(1, Math.max(0, row.reduce((sum, k, i) => sum + k * linear(colours[name])[i], 0))));
    for (const [a, b] of [["loaded", "empty"], ["loaded", "land"], ["empty", "land"], ["empty", "water"], ["supply", "land"], ["met", "land"], ...flows]) {
      // 2.3 is a just noticeable difference (from memory); lines of a few pixels need far more.
      assert.ok(apart(seen(a), seen(b)) > 30, `${a} and ${b}: ${apart(seen(a), seen(b)).toFixed(0)}`);
    }
  });
}
