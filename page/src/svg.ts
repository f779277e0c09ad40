// SVG made by hand.
const SPACE = "http://www.w3.org/2000/svg";

export type Attributes = Record<string, string | number>;

/** An SVG element. */
export function svg<K extends keyof SVGElementTagNameMap>(
  tag: K,
  attributes: Attributes = {},
  ...children: (Node | string)[]
): SVGElementTagNameMap[K] {
  const element = document.createElementNS(SPACE, tag);
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, String(value));
  element.append(...children);
  return element;
}

/** An HTML element; `class` and other attributes as in HTML. */
export function html<K extends keyof HTMLElementTagNameMap>(
  tag: K,
  attributes: Record<string, string> = {},
  ...children: (Node | string)[]
): HTMLElementTagNameMap[K] {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value);
  element.append(...children);
  return element;
}

/** A button in words. */
export function button(text: string, act: () => void, attributes: Record<string, string> = {}): HTMLButtonElement {
  const element = html("button", { type: "button", ...attributes }, text);
  element.addEventListener("click", act);
  return element;
}
