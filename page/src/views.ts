// The five questions, in the order of the strip; keys 1 to 5.
import type { View } from "./view";
import { StandView } from "./stand/stand";
import { waiting } from "./waiting";

export const VIEWS: readonly View[] = [
  new StandView(),
  waiting("carries", "Does it carry?"),
  waiting("supply", "Does it keep its voltage?"),
  waiting("walks", "Does it walk?"),
  waiting("now", "What is it doing now?"),
];
