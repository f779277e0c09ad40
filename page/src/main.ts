// The desk's page: Python computes and keeps; here it is drawn, and what people do is reported.
import "./style/tokens.css";
import "./style/sheet.css";
import "./style/controls.css";
import "./style/figure.css";
import "./style/carry.css";
import "./style/voltage.css";
import "./style/walk.css";
import "./style/drive.css";
import "./style/sizes.css";
import { Cursor } from "./cursor";
import { Driver } from "./drive/driver";
import { Figure } from "./figure/figure";
import { Link } from "./link";
import { onTheme } from "./look";
import { Shell } from "./shell/shell";
import { Store } from "./store";
import type { Desk } from "./view";
import { views } from "./views";

const store = new Store();
const cursor = new Cursor();
const shell = new Shell(document.body);
const address = new URL("desk", location.href);
address.protocol = address.protocol === "https:" ? "wss:" : "ws:";

const figure = new Figure(shell.figurePlace, store, cursor);
const link = new Link(address.href, {
  state(state) {
    store.link = state;
    store.tell("link");
  },
  message(message) {
    store.take(message);
    shell.view?.onMessage?.(message);
  },
  block(block) {
    store.takeBlock(block);
    shell.view?.onBlock?.(block);
  },
});

const desk: Desk = { store, link, cursor, figure, shell };
store.listen(["cycle"], () => {
  cursor.cycle = store.cycle.now?.header.cycle ?? 1;
});
cursor.listen(() => shell.view?.onCursor?.(cursor.phase));
onTheme(() => shell.view?.onLook?.());
const driver = new Driver(desk);
shell.start(desk, views(() => driver));

// For tests and curious people: everything that the page knows, in the browser's console.
declare global {
  interface Window {
    legwright: Desk & { driver: Driver };
  }
}
window.legwright = { ...desk, driver };
