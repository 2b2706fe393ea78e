// Bundles the page into one HTML file: node bundle.mjs OUT.html
//
// The map engine's worker goes in as text and is started from a blob (worker.ts), since a file opened
// from a stick may load nothing. The policy names script and style by their hashes: nothing else runs,
// and nothing is fetched.

import { createHash } from "node:crypto";
import { readFileSync, writeFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";
import { build } from "esbuild";

const here = dirname(fileURLToPath(import.meta.url));
const common = { bundle: true, minify: true, write: false, absWorkingDir: here, logLevel: "error", legalComments: "none" };
const targets = ["chrome100", "firefox102", "safari15.4"];

const worker = await build({
  ...common, target: targets, format: "iife", entryPoints: ["node_modules/maplibre-gl/dist/maplibre-gl-worker.mjs"],
});
const script = await build({
  ...common, target: targets, format: "iife", entryPoints: ["main.ts"],
  define: { WORKER_TEXT: JSON.stringify(worker.outputFiles[0].text) },
});
const style = await build({ ...common, target: targets, entryPoints: ["style.css"], loader: { ".svg": "dataurl" } });

// A closing tag inside a string would end the element.
const js = script.outputFiles[0].text.replaceAll("</script", "<\\/script").trim();
const css = style.outputFiles[0].text.trim();
if (css.includes("</style")) throw new Error("the style closes its own element");
const hash = (text) => `'sha256-${createHash("sha256").update(text).digest("base64")}'`;
const policy = [
  "default-src 'none'", `script-src ${hash(js)}`, `style-src ${hash(css)}`, "img-src data: blob:", "connect-src blob:",
  "worker-src blob:", "base-uri 'none'", "form-action 'none'",
].join("; ");
const fill = {
  "{{policy}}": policy, "/*style*/": css, "/*script*/": js,
  "{{licences}}": licences(),
};
let html = readFileSync(join(here, "shell.html"), "utf8");
for (const [mark, text] of Object.entries(fill)) {
  if (!html.includes(mark)) throw new Error(`shell.html has no ${mark}`);
  html = html.replace(mark, () => text);
}
if (!html.includes("<!--tankerloop-data-->")) throw new Error("shell.html has no place for the data");
writeFileSync(process.argv[2], html);

// The licences of what is bundled ask to be kept with it.
function licences() {
  const packages = { "maplibre-gl": "LICENSE.txt", uplot: "LICENSE" };
  const text = Object.entries(packages).map(([name, file]) => {
    const folder = join(here, "node_modules", name);
    const { version, license } = JSON.parse(readFileSync(join(folder, "package.json"), "utf8"));
    return `${name} ${version} (${license})\n\n${readFileSync(join(folder, file), "utf8").trim()}`;
  });
  return text.join("\n\n----\n\n").replaceAll("--", "- -").replaceAll("<", "").replaceAll(">", "");
}
