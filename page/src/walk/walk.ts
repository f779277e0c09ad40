// Does it walk? A walk in the physics world, while it is walked or from its recording.
import { still } from "../look";
import { number, withUnit } from "../numbers";
import { button, html } from "../svg";
import type { Instant } from "../figure/pose";
import type { Desk, View } from "../view";
import type { AnySaid, Received, Walking } from "../wire";
import { drawLand } from "./land";
import { Plots } from "./plots";
import { WalkForm } from "./form";
import { Story } from "./story";
import { Timeline } from "./time";

const STATES: Record<Walking["state"], string> = {
  none: "nothing walks. Start has the robot on the desk walk in the physics world, as it is edited now.", starting: "starting: the world is built", walking: "walking", paused: "held",
  ended: "ended", recording: "recording",
};

/** The fourth question. */
export class WalkView implements View {
  readonly word = "walks";
  readonly question = "Does it walk?";
  readonly areas: readonly string[] = ["envelope"];
  private desk: Desk | null = null;
  private off: (() => void)[] = [];
  private story = new Story();
  private time = new Timeline();
  private plots: Plots | null = null;
  private form: WalkForm | null = null;
  private readonly line = html("p", { class: "walk-line", "aria-live": "polite" });
  private readonly figures = html("dl", { class: "walk-figures" });
  private readonly trouble = html("p", { class: "wrong", hidden: "" });
  private readonly events = html("ol", { class: "events" });
  private readonly recordings = html("div", { class: "recordings" });
  private readonly film = html("p", { class: "film", "aria-live": "polite" });
  private listed = -1;
  private at = 0;
  private asking = false;
  private readonly buttons = {
    start: button("Start", () => this.start(), { class: "first wide" }),
    pause: button("Hold", () => this.pause()),
    end: button("End", () => this.send({ type: "walk_end" })),
    now: button("Now", () => this.now()),
    stretch: button("Whole walk", () => this.stretch()),
    film: button("Film strip", () => this.strip()),
  };

  mount(place: HTMLElement, desk: Desk): void {
    this.desk = desk;
    this.story = new Story();
    this.time = new Timeline();
    this.listed = -1;
    this.plots = new Plots(this.story, this.time, () => this.look());
    this.form = new WalkForm(desk);
    const { start, pause, end, now, stretch, film } = this.buttons;
    place.append(
      html("div", { class: "walk-head" }, html("div", { class: "row" }, start, pause, end, now, stretch, film), this.line, this.trouble, this.film),
      this.form.element, this.figures, this.plots.element,
      html("section", { class: "part" }, html("h3", {}, "What happened"), this.events),
      html("section", { class: "part" }, html("h3", {}, "Recordings"), this.recordings),
    );
    this.off.push(desk.store.listen(["walk"], () => this.tell()));
    this.off.push(desk.store.listen(["welcome"], () => this.offer()));
    this.off.push(desk.store.listen(["link"], () => this.watch()));
    this.off.push(desk.store.listen(["refused"], () => this.refuse()));
    desk.figure.follow(() => this.instant(), "the figure shows the walk");
    desk.figure.terrain = (strokes, pen) => drawLand(strokes, pen, this.story.land, this.place());
    this.offer();
    this.watch();
    this.tell();
    this.list();
    this.happened();
  }

  unmount(): void {
    const { desk } = this;
    if (desk !== null) {
      desk.link.send({ type: "walk_watch", on: false });
      desk.figure.terrain = null;
      desk.figure.follow(null);
    }
    for (const each of this.off) each();
    this.off = [];
    this.plots = null;
    this.form = null;
    this.desk = null;
  }

  onMessage(message: AnySaid): void {
    if (this.story.take(message)) {
      if (message.type === "walk_about") this.about();
      else this.happened();
      this.plots?.change();
      return;
    }
    if (message.type === "film") this.filmed(message.id, message.title);
    if (message.type === "recordings") this.list();
  }

  onBlock(block: Received): void {
    const before = this.story.shown;
    if (!this.story.takeBlock(block)) return;
    if (block.header.type === "moment") {
      this.asking = false;
      // What is looked back at stays, however the walk goes on.
      if (block.header.live && this.time.held !== null) this.story.shown = before;
      if (!still.matches || !block.header.live) this.desk?.figure.change();
    } else {
      this.plots?.change();
    }
  }

  onLook(): void {
    this.plots?.change();
  }

  // What is asked ------------------------------------------------------------------------

  private send(asking: Parameters<Desk["link"]["send"]>[0]): void {
    this.trouble.hidden = true;
    this.at = this.desk?.link.send(asking) ?? 0;
  }

  private start(): void {
    const asked = this.form?.asked();
    if (typeof asked === "string") {
      this.trouble.textContent = asked;
      this.trouble.hidden = false;
      return;
    }
    if (asked) this.send(asked);
    this.time.hold(null);
  }

  private pause(): void {
    this.send({ type: "walk_pause", paused: this.desk?.store.walk?.state !== "paused" });
  }

  private strip(): void {
    this.film.textContent = "The film strip is being drawn.";
    this.send({ type: "film" });
  }

  private watch(): void {
    if (this.desk?.store.link === "open") this.desk.link.send({ type: "walk_watch", on: true });
  }

  private now(): void {
    this.time.hold(null);
    this.look();
    this.plots?.change();
  }

  private stretch(): void {
    this.time.show(!this.time.whole);
    this.buttons.stretch.textContent = this.time.whole ? "Ten seconds" : "Whole walk";
    this.plots?.change();
  }

  private look(): void {
    this.buttons.now.disabled = this.time.held === null;
    if (this.asking || this.desk === null) return;
    this.asking = true;
    setTimeout(() => {
      this.asking = false;
      if (this.story.shown !== null && Math.abs(this.story.shown.time - this.time.cursor) > 0.05 && this.time.held !== null) this.look();
    }, 60);
    this.desk.link.send({ type: "walk_at", time: this.time.cursor });
  }

  private offer(): void {
    const welcome = this.desk?.store.welcome;
    if (welcome) this.form?.offer(welcome.grounds, welcome.gaits.map((gait) => gait.name));
  }

  // What is shown ------------------------------------------------------------------------

  private place(): [number, number, number] {
    const body = this.story.shown?.arrays["body"];
    return [body?.[0] ?? 0, body?.[1] ?? 0, 0];
  }

  /** The moment, the body kept in the middle of the picture: the ground moves under it. */
  private instant(): Instant | null {
    const { shown, about } = this.story;
    const { q, body, force, touch, contact, margin } = shown?.arrays ?? {};
    if (!q || !body || about?.drawn === false) return null;
    const known = touch !== undefined && !Number.isNaN(touch[0]);
    const instant: Instant = { q, body: [0, 0, ...body.slice(2)] };
    const down = known ? touch : contact;
    if (down !== undefined) instant.contact = down;
    if (force !== undefined && !Number.isNaN(force[0])) instant.force = force;
    const kept = margin?.[0];
    if (kept !== undefined) instant.margin = kept;
    return instant;
  }

  private tell(): void {
    const walk = this.desk?.store.walk;
    if (!walk) return;
    const { start, pause, end, now, film } = this.buttons;
    const moving = walk.state === "walking" || walk.state === "paused";
    start.disabled = walk.state === "starting";
    pause.disabled = !moving;
    pause.textContent = walk.state === "paused" ? "Go on" : "Hold";
    end.disabled = walk.state === "none" || walk.state === "ended";
    end.textContent = walk.state === "recording" ? "Close" : "End";
    now.disabled = this.time.held === null;
    film.disabled = walk.name === "" || walk.state === "starting";
    start.textContent = moving ? "Start anew" : "Start";
    const words = [STATES[walk.state]];
    if (walk.text !== "") words.push(walk.text);
    else if (walk.state === "recording") words.push(walk.name);
    const text = words.join(": ");
    if (this.line.textContent !== text) this.line.textContent = text;
    this.line.dataset["state"] = walk.state;
    const shown: [string, string][] = walk.state === "none" ? [] : [
      ["time", withUnit(number(walk.time, 1), "s")],
      ["forward", withUnit(number(walk.way, 2), "m")],
      ["real pace", walk.state === "walking" ? `${number(walk.factor, 2)}×` : "—"],
      ["walk", [walk.gait, walk.mode, walk.ground, walk.seed === null ? "" : `seed ${walk.seed}`].filter((word) => word !== "").join(", ") || walk.robot],
    ];
    this.figures.replaceChildren(...shown.map(([name, value]) => html("div", {}, html("dt", {}, name), html("dd", { "data-figure": name }, value))));
    this.form?.tell(walk);
    this.list();
  }

  private about(): void {
    const { about } = this.story;
    this.time.hold(null);
    const strange = about !== null && !about.drawn;
    this.trouble.hidden = !strange;
    if (strange) this.trouble.textContent = "This walk is of a robot with other joints than the one on the desk: it is plotted, not drawn.";
    this.listed = -1;
    this.happened();
  }

  private happened(): void {
    const { events } = this.story;
    if (events.length === this.listed) return;
    this.listed = events.length;
    const rows = events.slice(-200).reverse().map((event) => {
      const row = html("li", {}, button(withUnit(number(event.time, 2), "s"), () => {
        this.time.hold(event.time);
        this.look();
        this.plots?.change();
      }, { class: "when" }), html("span", {}, event.text || event.what));
      return row;
    });
    this.events.replaceChildren(...(rows.length > 0 ? rows : [html("li", { class: "quiet" }, this.story.about === null ? "Slips, falls and what the robot felt will stand here." : "Nothing but steps so far.")]));
  }

  private filmed(id: string, title: string): void {
    const link = html("a", { href: `film/${id}.png`, download: title }, `Keep the film strip ${title}`);
    const picture = html("img", { src: `film/${id}.png`, alt: "Film strip of the walk: six moments, and the whole way from the side" });
    this.film.replaceChildren(link, picture);
  }

  private list(): void {
    const { recordings, walk } = this.desk?.store ?? {};
    if (!recordings) return;
    const busy = walk?.state === "walking" || walk?.state === "paused" || walk?.state === "starting";
    const key = `${recordings.list.join()}|${busy}|${walk?.name}`;
    if (this.recordings.dataset["key"] === key) return;
    this.recordings.dataset["key"] = key;
    const where = recordings.folder === "" ? "They go when the desk is closed; start it with --recordings FOLDER to keep them." : `In the folder ${recordings.folder}.`;
    this.recordings.replaceChildren(
      html("p", { class: "say" }, recordings.list.length === 0 ? "No walk has been recorded yet." : where),
      ...recordings.list.slice(0, 50).map((name) => {
        const open = button(name, () => this.send({ type: "walk_open", name }), { class: "recording" });
        open.disabled = busy ?? false;
        if (busy) open.title = "End the walk first.";
        if (name === walk?.name && walk.state === "recording") open.setAttribute("aria-current", "true");
        return open;
      }),
    );
  }

  private refuse(): void {
    const refused = this.desk?.store.refused;
    if (!refused || refused.n !== this.at || this.at === 0) return;
    this.trouble.textContent = refused.text;
    this.trouble.hidden = false;
    this.film.replaceChildren();
  }
}
