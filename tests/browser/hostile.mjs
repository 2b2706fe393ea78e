// The county with names that try to be markup, to be huge or to turn the text round.

import { mkdirSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { out, root } from "./support.mjs";

const county = join(root, "data/county");
const folder = join(out, "hostile");
export const names = [
  "</script><script>alert('site')</script>", "\"><img src=x onerror=alert('img')>", "<svg onload=alert(2)>", "{{constructor.constructor('alert(3)')()}}",
  "\u202Egnidnal riovreseR", "=HYPERLINK(\"http://example.invalid/\",\"x\")", `long ${"x".repeat(10_000)}`, "__proto__", "javascript:alert(4)",
];
/** Writes it; the path of its scenario. */
export function hostile() {
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
  return join(folder, "scenario.toml");
}
