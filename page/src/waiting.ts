// A question whose view has not been written yet, and says so.
import { html } from "./svg";
import type { View } from "./view";

/** A view that answers nothing yet. */
export function waiting(word: string, question: string): View {
  return {
    word,
    question,
    mount: (place) => {
      place.append(html("p", { class: "say" }, "The desk does not answer this question yet. The report does: legwright check ROBOT --report DIR."));
    },
    unmount: () => undefined,
  };
}
