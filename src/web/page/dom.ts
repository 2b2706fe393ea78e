// Elements from code. Text goes in as text: whatever a name holds, it is never markup.

export type Child = Node | string | null | undefined;
type Attributes = Record<string, string | number | boolean | ((event: Event) => void) | undefined>;

function fill(element: Element, attributes: Attributes, children: Child[]): void {
  for (const [name, value] of Object.entries(attributes)) {
    if (value === undefined || value === false) continue;
    if (typeof value === "function") element.addEventListener(name, value);
    else element.setAttribute(name, value === true ? "" : String(value));
  }
  for (const child of children) {
    if (child !== null && child !== undefined) element.append(child);
  }
}

/** An HTML element; an attribute that is a function is a listener for the event of that name. */
export function h<K extends keyof HTMLElementTagNameMap>(
  tag: K, attributes: Attributes = {}, ...children: Child[]
): HTMLElementTagNameMap[K] {
  const element = document.createElement(tag);
  fill(element, attributes, children);
  return element;
}

const SVG = "http://www.w3.org/2000/svg";

export function s<K extends keyof SVGElementTagNameMap>(
  tag: K, attributes: Attributes = {}, ...children: Child[]
): SVGElementTagNameMap[K] {
  const element = document.createElementNS(SVG, tag);
  fill(element, attributes, children);
  return element;
}

export function byId(id: string): HTMLElement {
  const element = document.getElementById(id);
  if (!element) throw new Error(`the page has no #${id}`);
  return element;
}

/** Rows of a definition list; empty values are left out. */
export function definitions(rows: [string, Child, string?][]): HTMLElement {
  const list = h("dl", { class: "numbers" });
  for (const [term, value, key] of rows) {
    if (value === null || value === undefined || value === "") continue;
    list.append(h("div", {}, h("dt", {}, term), h("dd", { "data-key": key }, value)));
  }
  return list;
}

export function table(caption: string, heads: string[], rows: Child[][]): HTMLElement {
  return h("div", { class: "wide", tabindex: 0, role: "region", "aria-label": caption },
    h("table", {},
      h("caption", {}, caption),
      h("thead", {}, h("tr", {}, ...heads.map((head) => h("th", { scope: "col" }, head)))),
      h("tbody", {}, ...rows.map((cells) => h("tr", {}, ...cells.map((cell, i) =>
        i === 0 ? h("th", { scope: "row" }, cell) : h("td", {}, cell)))))));
}
