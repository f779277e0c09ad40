// The row over the figure: which view of it, and what is drawn beside it.
import type { Aspect } from "../figure/sight";
import type { Layers } from "../figure/figure";
import { html } from "../svg";
import type { Desk } from "../view";

const ASPECTS: readonly Aspect[] = ["isometric", "plan", "side", "front"];
const LAYERS: readonly (keyof Layers)[] = ["reach", "forces", "paths", "gaps"];

/** Buttons for views and layers. */
export function aspectRow({ figure }: Desk): HTMLElement {
  const views = html("div", { class: "aspects", role: "group", "aria-label": "View of the figure" });
  const layers = html("div", { class: "layers", role: "group", "aria-label": "Drawn beside the robot" });
  const buttons = ASPECTS.map((aspect) => {
    const element = html("button", { type: "button" }, aspect);
    element.addEventListener("click", () => {
      figure.look(aspect);
      draw();
    });
    return element;
  });
  const draw = (): void => {
    buttons.forEach((element, i) => element.setAttribute("aria-pressed", String(figure.sight.aspect === ASPECTS[i])));
  };
  for (const layer of LAYERS) {
    const element = html("button", { type: "button", "aria-pressed": String(figure.layers[layer]) }, layer);
    element.addEventListener("click", () => {
      figure.layers[layer] = !figure.layers[layer];
      element.setAttribute("aria-pressed", String(figure.layers[layer]));
      figure.change();
    });
    layers.append(element);
  }
  views.append(...buttons);
  figure.onSight = draw;
  draw();
  return html("div", { class: "aspect-row" }, views, layers);
}
