/** The drawing board: the photo and, over it, what was measured and what the hand does to it. */

import type { NewCorrection, Pair, PhotoView, Units } from "../api/types";
import { along, nearest, pulled, thinned } from "./edge";
import { follow, type Hands } from "./gestures";
import {
  paintCross,
  paintDraft,
  paintGrip,
  paintMarks,
  paintMeasured,
  paintRules,
  paintTried,
  RULE_PX,
  type Shown,
} from "./paint";
import { Picture } from "./picture";
import { shown as shownText } from "../kit/lengths";
import { distance, onInstrument } from "./space";
import { onBoard, quarterFor, toBoard, toServer, turnedPicture, type Quarter } from "./turn";
import { fit, fitBox, kept, moved, toPhoto, zoomed, type Point, type Size, type View } from "./view";

export type Tool = "push" | "move" | "redraw" | "exclude";

/** How near to the edge a press has to be to take hold of it, CSS px. */
const REACH_FINE = 16;
const REACH_COARSE = 30;
/** Round a mark, px of the view: a place is known by what lies about it. */
const RAISED = 320;
const MOST_PATH = 1500;
const MOST_AREA = 400;

export interface Told {
  correct: (correction: NewCorrection) => void;
  /** words for the line under the board, and whether they are to be read aloud */
  say: (words: string, aloud: boolean) => void;
  zoom: (cssPxPerPhotoPx: number) => void;
}

export class Board implements Hands {
  private readonly picture2d: CanvasRenderingContext2D;
  private readonly lines2d: CanvasRenderingContext2D;
  private picture: Picture | null = null;
  /** as the server sent it, and the same as it lies on the board */
  private raw: PhotoView | null = null;
  private photo: PhotoView | null = null;
  private quarter: Quarter = 0;
  private view: View = { scale: 1, x: 0, y: 0 };
  private window: Size = { width: 0, height: 0 };
  private density = 1;
  private fitted = false;
  private tool: Tool = "push";
  private snap = true;
  private reachMm = 8;
  private units: Units = "mm";
  private numbers = true;
  private measuredOnly = false;
  /** the mark that was brought up last: it is drawn whatever its weight */
  private raised: number | null = null;
  private tried: readonly Pair[] = [];
  private locked = false;
  /** the edge as drawn: the server's, or what the hand has made of it so far */
  private edge: readonly Pair[] = [];
  private held: { index: number; from: readonly Pair[]; at: Pair; to: Pair } | null = null;
  private grip: number | null = null;
  private draft: Pair[] = [];
  private drawing = false;
  private keys = false;
  private stale = { picture: true, lines: true };
  private asked = 0;
  private moveTime = 0;
  private readonly off: () => void;

  constructor(
    private readonly pictureCanvas: HTMLCanvasElement,
    private readonly linesCanvas: HTMLCanvasElement,
    private readonly told: Told,
  ) {
    this.picture2d = pictureCanvas.getContext("2d", { alpha: false })!;
    this.lines2d = linesCanvas.getContext("2d")!;
    const sizes = new ResizeObserver(() => this.resize());
    sizes.observe(linesCanvas);
    const off = follow(linesCanvas, this);
    const light = () => this.redraw(true);
    document.addEventListener("light", light);
    document.fonts.addEventListener("loadingdone", light);
    this.off = () => {
      sizes.disconnect();
      off();
      document.removeEventListener("light", light);
      document.fonts.removeEventListener("loadingdone", light);
      cancelAnimationFrame(this.asked);
      this.picture?.close();
    };
    this.resize();
  }

  close(): void {
    this.off();
  }

  // what the page sets

  show(raw: PhotoView | null): void {
    const before = this.raw;
    const sameSize = before?.size.join() === raw?.size.join();
    const quarter = raw ? quarterFor(raw, this.window) : 0;
    const turned = quarter !== this.quarter;
    this.raw = raw;
    this.quarter = quarter;
    this.photo = raw && onBoard(raw, quarter);
    this.held = null;
    this.raised = null;
    this.edge = this.photo?.edge?.points ?? [];
    if (this.grip !== null && this.grip >= this.edge.length) this.grip = null;
    if (raw && (before?.image !== raw.image || turned)) void this.fetchPicture(raw, quarter);
    if (!sameSize || turned) this.fitted = false;
    this.fitOnce();
    this.redraw(true);
  }

  set(wish: {
    tool?: Tool;
    snap?: boolean;
    reachMm?: number;
    units?: Units;
    numbers?: boolean;
    bare?: boolean;
    locked?: boolean;
  }): void {
    if (wish.tool !== undefined && wish.tool !== this.tool) {
      this.tool = wish.tool;
      this.drop();
      this.grip = null;
    }
    this.snap = wish.snap ?? this.snap;
    this.reachMm = wish.reachMm ?? this.reachMm;
    this.units = wish.units ?? this.units;
    this.numbers = wish.numbers ?? this.numbers;
    this.measuredOnly = wish.bare ?? this.measuredOnly;
    this.locked = wish.locked ?? this.locked;
    this.linesCanvas.style.cursor = this.tool === "push" ? "grab" : "crosshair";
    this.redraw(false);
  }

  whole(): void {
    if (!this.photo) return;
    this.look(fit(this.photoSize, this.window, RULE_PX + 8));
  }

  /** The instrument, as large as it goes. */
  instrument(): void {
    const points = this.edge;
    if (points.length === 0) return this.whole();
    const xs = points.map((p) => p[0]);
    const ys = points.map((p) => p[1]);
    this.look(
      fitBox(
        [Math.min(...xs), Math.min(...ys)],
        [Math.max(...xs), Math.max(...ys)],
        this.window,
        RULE_PX + 24,
      ),
    );
  }

  /** A place that something was done to, as the server knows it. */
  bringUp(points: readonly Pair[], share = 1, around = 40): void {
    if (!this.raw || points.length === 0) return;
    const there = points.map((p) => toBoard(this.raw!.size, this.quarter, p));
    const xs = there.map((p) => p[0]);
    const ys = there.map((p) => p[1]);
    const window = { width: this.window.width, height: this.window.height * share };
    this.look(
      fitBox(
        [Math.min(...xs) - around, Math.min(...ys) - around],
        [Math.max(...xs) + around, Math.max(...ys) + around],
        window,
        RULE_PX + 40,
      ),
    );
  }

  /** A mark of the view, by its number there; `share` of the window's height is free for it. */
  raise(number: number, share = 1): void {
    const mark = this.raw?.marks[number];
    if (!mark) return;
    this.raised = number;
    this.bringUp(mark.lines.flat(), share, RAISED);
    this.redraw(false);
  }

  /** Where the last correction could not be taken, as the server knows it. */
  refuse(at: readonly Pair[]): void {
    this.tried = at;
    this.redraw(false);
  }

  /** One photo px to a device px, or more closely, at the middle of the window. */
  nearer(factor: number): void {
    if (this.photo) this.zoom(factor, [this.window.width / 2, this.window.height / 2]);
  }

  singlePixels(): void {
    this.nearer(16 / this.view.scale);
  }

  // hands

  begin(at: Point, coarse: boolean): boolean {
    this.keys = false;
    if (this.locked || !this.photo) return false;
    const place = toPhoto(this.view, at) as Pair;
    if (this.tool === "move") {
      const found = nearest(this.edge, place);
      const within = (coarse ? REACH_COARSE : REACH_FINE) / this.view.scale;
      if (found.index < 0 || found.distance > within) return false;
      this.take(found.index);
      return true;
    }
    if (this.tool === "redraw" || this.tool === "exclude") {
      this.draft = [place];
      this.drawing = true;
      this.redraw(false);
      return true;
    }
    return false;
  }

  draw(at: Point, time: number): void {
    this.moveTime = time;
    const place = toPhoto(this.view, at) as Pair;
    if (this.held) this.pull(place);
    else if (this.drawing) this.draft.push(place);
    this.redraw(false);
  }

  end(): void {
    if (this.held) this.letGo();
    else if (this.drawing) this.finish();
  }

  drop(): void {
    if (this.held) this.edge = this.held.from;
    this.held = null;
    this.draft = [];
    this.drawing = false;
    this.redraw(false);
  }

  hover(at: Point | null): void {
    if (this.keys) return;
    const before = this.grip;
    this.grip = null;
    if (at && this.tool === "move" && !this.locked) {
      const found = nearest(this.edge, toPhoto(this.view, at) as Pair);
      if (found.index >= 0 && found.distance <= REACH_FINE / this.view.scale)
        this.grip = found.index;
    }
    if (before !== this.grip) this.redraw(false);
  }

  push(dx: number, dy: number): void {
    if (this.photo) this.look(moved(this.view, dx, dy, this.photoSize, this.window));
  }

  zoom(factor: number, at: Point): void {
    if (this.photo) this.look(zoomed(this.view, factor, at, this.photoSize, this.window));
  }

  // keys; true where the key was for us

  key(event: KeyboardEvent): boolean {
    if (event.ctrlKey || event.metaKey || event.altKey) return false;
    const step = event.shiftKey ? 10 : 1;
    const ways: Record<string, Pair> = {
      ArrowLeft: [-1, 0],
      ArrowRight: [1, 0],
      ArrowUp: [0, -1],
      ArrowDown: [0, 1],
    };
    const way = ways[event.key];
    if (way && this.tool === "move" && this.keys && this.grip !== null) {
      this.nudge(way[0] * step, way[1] * step);
      return true;
    }
    if (way) {
      this.keys = true;
      this.push(-way[0] * 40 * (event.shiftKey ? 5 : 1), -way[1] * 40 * (event.shiftKey ? 5 : 1));
      return true;
    }
    switch (event.key) {
      case "+":
      case "=":
        this.nearer(1.4);
        return true;
      case "-":
        this.nearer(1 / 1.4);
        return true;
      case "0":
        this.whole();
        return true;
      case "1":
        this.singlePixels();
        return true;
      case ".":
      case ">":
        this.walk(event.key === ">" ? 1 : 20);
        return true;
      case ",":
      case "<":
        this.walk(event.key === "<" ? -1 : -20);
        return true;
      case " ":
        this.mark();
        return true;
      case "Enter":
        if (this.held) this.letGo();
        else if (this.draft.length > 0) this.finish();
        else return false;
        return true;
      case "Escape":
        if (!this.held && this.draft.length === 0) return false;
        this.drop();
        this.told.say("Left as it was.", true);
        return true;
      default:
        return false;
    }
  }

  /** To a place further along the edge, in photo px; it is kept in sight and told. */
  private walk(px: number): void {
    if (this.edge.length === 0) return;
    if (this.held) this.drop();
    this.keys = true;
    const middle = toPhoto(this.view, [this.window.width / 2, this.window.height / 2]) as Pair;
    this.grip =
      this.grip === null ? nearest(this.edge, middle).index : along(this.edge, this.grip, px);
    this.bringIn(this.edge[this.grip]!);
    this.told.say(this.describe(this.grip), true);
    this.redraw(false);
  }

  private nudge(dx: number, dy: number): void {
    if (this.grip === null || this.locked) return;
    if (!this.held) this.take(this.grip);
    const to = this.held!.to;
    this.pull([to[0] + dx, to[1] + dy]);
    this.bringIn(this.held!.to);
    this.redraw(false);
  }

  private mark(): void {
    if (this.locked || (this.tool !== "redraw" && this.tool !== "exclude")) return;
    this.keys = true;
    this.draft.push(
      this.grip === null
        ? (toPhoto(this.view, [this.window.width / 2, this.window.height / 2]) as Pair)
        : this.edge[this.grip]!,
    );
    const n = this.draft.length;
    this.told.say(`Mark ${n} set. Enter finishes, Escape drops.`, true);
    this.redraw(false);
  }

  private bringIn(place: Pair): void {
    const room = 60 / this.view.scale;
    const wide = this.window.width / this.view.scale;
    const high = this.window.height / this.view.scale;
    const { x, y, scale } = this.view;
    if (
      place[0] < x + room ||
      place[0] > x + wide - room ||
      place[1] < y + room ||
      place[1] > y + high - room
    )
      this.look(
        kept({ scale, x: place[0] - wide / 2, y: place[1] - high / 2 }, this.photoSize, this.window),
      );
  }

  // corrections

  private take(index: number): void {
    const at = this.edge[index]!;
    this.grip = index;
    this.held = { index, from: this.edge, at, to: at };
    performance.clearMeasures("drag");
    this.redraw(false);
  }

  private pull(to: Pair): void {
    const held = this.held;
    const photo = this.photo;
    if (!held || !photo?.px_per_mm) return;
    held.to = to;
    this.edge = pulled(held.from, held.index, to, this.reachMm * photo.px_per_mm);
    const z = photo.edge?.z[held.index] ?? 0;
    const mm = distance(photo.camera, held.at, to, z);
    this.told.say(`moved ${shownText(mm, this.units)}`, this.keys);
  }

  private letGo(): void {
    const held = this.held;
    this.held = null;
    if (!held) return;
    const far = Math.hypot(held.to[0] - held.at[0], held.to[1] - held.at[1]);
    if (far < 0.05) {
      this.edge = held.from;
      return;
    }
    // the edge stays as drawn until the server's answer takes its place
    const [at, to] = [this.server(held.at), this.server(held.to)];
    this.told.correct({ kind: "move", at, to, reach_mm: this.reachMm });
    this.redraw(false);
  }

  private finish(): void {
    const path = this.draft;
    const tool = this.tool;
    this.drawing = false;
    this.draft = [];
    this.redraw(false);
    const least = 2 / Math.max(1, this.view.scale);
    if (tool === "redraw") {
      const thin = thinned(path, least, MOST_PATH).map((p) => this.server(p));
      if (thin.length >= 2) this.told.correct({ kind: "redraw", path: thin, snap: this.snap });
      else this.told.say("Draw along the edge, from where it is right to where it is right.", true);
    } else if (tool === "exclude") {
      const thin = thinned(path, least, MOST_AREA).map((p) => this.server(p));
      if (thin.length >= 3) this.told.correct({ kind: "exclude", area: thin });
      else this.told.say("Draw a loop round what does not belong to the instrument.", true);
    }
  }

  private server(at: Pair): Pair {
    const [x, y] = toServer(this.raw!.size, this.quarter, at);
    return [Math.round(x * 1000) / 1000, Math.round(y * 1000) / 1000];
  }

  /** The server did not take it: back to what it has. */
  revert(): void {
    this.edge = this.photo?.edge?.points ?? [];
    this.redraw(false);
  }

  private describe(index: number): string {
    const photo = this.photo!;
    const edge = photo.edge!;
    const z = edge.z[index] ?? 0;
    const at = onInstrument(photo, this.edge[index]!, z);
    const words = [`Edge of the ${edge.part[index] ?? "instrument"}`];
    if (at) {
      words.push(`${shownText(at[0], this.units)} from the tail`);
      words.push(`${shownText(Math.abs(at[1]), this.units)} to the ${at[1] >= 0 ? "left" : "right"}`);
    }
    const u95 = edge.u95[index];
    if (u95 !== undefined) words.push(`± ${shownText(u95, this.units)}`);
    if (edge.doubtful[index]) words.push("in doubt");
    return words.join(", ") + ".";
  }

  // drawing

  private get photoSize(): Size {
    const [width, height] = this.photo?.size ?? [1, 1];
    return { width, height };
  }

  private async fetchPicture(raw: PhotoView, quarter: Quarter): Promise<void> {
    const picture = new Picture(this.photoSize);
    const wanted = () => this.raw?.image === raw.image && this.quarter === quarter;
    for (const address of [raw.small, raw.image]) {
      try {
        const answer = await fetch(address);
        if (!answer.ok) continue;
        const bitmap = await turnedPicture(await createImageBitmap(await answer.blob()), quarter);
        if (!wanted()) return bitmap.close();
        await picture.add(bitmap);
        if (!wanted()) return picture.close();
        if (this.picture !== picture) {
          this.picture?.close();
          this.picture = picture;
          performance.mark("photo");
        }
        this.redraw(true);
      } catch {
        this.told.say("The photo could not be fetched.", true);
      }
    }
    performance.mark("whole-photo");
  }

  private resize(): void {
    const { clientWidth, clientHeight } = this.linesCanvas;
    if (!clientWidth || !clientHeight) return;
    this.density = Math.min(3, devicePixelRatio || 1);
    this.window = { width: clientWidth, height: clientHeight };
    for (const canvas of [this.pictureCanvas, this.linesCanvas]) {
      canvas.width = Math.round(clientWidth * this.density);
      canvas.height = Math.round(clientHeight * this.density);
    }
    if (this.raw && quarterFor(this.raw, this.window) !== this.quarter) return this.show(this.raw);
    this.fitOnce();
    if (this.photo) this.look(kept(this.view, this.photoSize, this.window));
    this.redraw(true);
  }

  private fitOnce(): void {
    if (this.fitted || !this.photo || !this.window.width) return;
    this.fitted = true;
    if (this.edge.length) this.instrument();
    else this.whole();
  }

  private look(view: View): void {
    this.view = view;
    this.told.zoom(view.scale);
    this.redraw(true);
  }

  private redraw(photoToo: boolean): void {
    this.stale.lines = true;
    this.stale.picture ||= photoToo;
    this.asked ||= requestAnimationFrame(() => {
      this.asked = 0;
      this.paint();
    });
  }

  private paint(): void {
    if (this.stale.picture) this.paintPicture();
    if (this.stale.lines) this.paintLines();
    this.stale = { picture: false, lines: false };
    if (this.moveTime) {
      performance.measure("drag", { start: this.moveTime, end: performance.now() });
      this.moveTime = 0;
    }
  }

  private paintPicture(): void {
    const context = this.picture2d;
    context.setTransform(1, 0, 0, 1, 0, 0);
    const floor = getComputedStyle(document.documentElement).getPropertyValue("--floor");
    context.fillStyle = floor || "#6d7880";
    context.fillRect(0, 0, this.pictureCanvas.width, this.pictureCanvas.height);
    this.picture?.draw(context, this.view, this.window, this.density);
  }

  private paintLines(): void {
    const context = this.lines2d;
    context.setTransform(1, 0, 0, 1, 0, 0);
    context.clearRect(0, 0, this.linesCanvas.width, this.linesCanvas.height);
    context.setTransform(this.density, 0, 0, this.density, 0, 0);
    const photo = this.photo;
    if (!photo) return;
    const shown: Shown = {
      view: this.view,
      window: this.window,
      photo,
      edge: this.edge,
      units: this.units,
      numbers: this.numbers && !this.held,
      dark: document.documentElement.dataset["light"] === "dark",
    };
    if (!this.measuredOnly) paintMeasured(context, shown);
    paintMarks(context, shown.view, photo.marks, this.raised);
    if (this.tried.length > 0 && this.raw) {
      const there = this.tried.map((p) => toBoard(this.raw!.size, this.quarter, p));
      paintTried(context, shown.view, there);
    }
    paintDraft(context, this.view, this.draft, this.tool === "exclude");
    const grip = this.held?.to ?? (this.grip === null ? null : this.edge[this.grip]);
    if (grip) paintGrip(context, this.view, grip, this.held !== null);
    else if (this.keys && this.tool !== "push") paintCross(context, this.window);
    paintRules(context, shown, this.zero());
    if (photo.edge) performance.mark("outline");
  }

  /** Where the rules begin to count: the leftmost and the uppermost place of the instrument. */
  private zero(): Pair {
    const points = this.photo?.edge?.points;
    if (!points?.length) return [0, 0];
    let [x, y] = points[0]!;
    for (const p of points) {
      if (p[0] < x) x = p[0];
      if (p[1] < y) y = p[1];
    }
    return [x, y];
  }
}
