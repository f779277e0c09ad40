// The five questions, in the order of the strip; keys 1 to 5.
import { CarryView } from "./carry/carry";
import type { Driver } from "./drive/driver";
import { DriveView } from "./drive/drive";
import type { View } from "./view";
import { StandView } from "./stand/stand";
import { VoltageView } from "./voltage/voltage";
import { WalkView } from "./walk/walk";

/** All views; the driver is there when they are drawn. */
export const views = (driver: () => Driver): readonly View[] => [
  new StandView(),
  new CarryView(),
  new VoltageView(),
  new WalkView(),
  new DriveView(driver),
];
