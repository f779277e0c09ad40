// The five questions, in the order of the strip; keys 1 to 5.
import type { Driver } from "./drive/driver";
import { DriveView } from "./drive/drive";
import type { View } from "./view";
import { StandView } from "./stand/stand";
import { WalkView } from "./walk/walk";
import { waiting } from "./waiting";

/** All views; the driver is there when they are drawn. */
export const views = (driver: () => Driver): readonly View[] => [
  new StandView(),
  waiting("carries", "Does it carry?"),
  waiting("supply", "Does it keep its voltage?"),
  new WalkView(),
  new DriveView(driver),
];
