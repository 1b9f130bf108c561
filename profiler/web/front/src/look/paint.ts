/** Lines over the photo, with the colours of the printed overlay: they keep by day and by lamp. */

import type { Edge, Mark, Pair, PhotoView, Units } from "../api/types";
import { quantityText } from "../kit/lengths";
import { ticks } from "./scale";
import { toScreen, type Size, type View } from "./view";

export const COLOURS = {
  ink: "#1054a8",
  vermilion: "#d63a16",
  teal: "#00a596",
  pencil: "#343230",
  paper: "#fdfdfb",
} as const;

/** Steel, its edge, what is engraved in it. */
const STEEL = { day: ["#d9dde0", "#8d979e", "#2b3238"], lamp: ["#39424a", "#66727b", "#e3e7ea"] } as const;

const LETTERS = "15px 'Barlow Condensed', 'Barlow', sans-serif";
const NUMERALS = "13px 'Barlow Condensed', 'Barlow', sans-serif";
export const RULE_PX = 26;

type Context = CanvasRenderingContext2D;

export interface Shown {
  view: View;
  window: Size;
  photo: PhotoView;
  /** as it is drawn now: while the hand is on it, not what the server has */
  edge: readonly Pair[];
  units: Units;
  numbers: boolean;
  /** lamp, not day */
  dark: boolean;
}

export function paintMeasured(context: Context, shown: Shown): void {
  const { view, photo } = shown;
  context.lineJoin = "round";
  if (photo.centreline) {
    const [a, b] = photo.centreline.map((p) => toScreen(view, p)) as [Pair, Pair];
    dashed(context, a, b);
  }
  for (const station of photo.stations) {
    const [a, b] = station.ends.map((p) => toScreen(view, p)) as [Pair, Pair];
    cased(context, [a, b], COLOURS.pencil, 1.5, false);
  }
  if (photo.edge) paintEdge(context, view, photo.edge, shown.edge);
  if (shown.numbers) paintTags(context, shown);
}

function paintEdge(context: Context, view: View, edge: Edge, points: readonly Pair[]): void {
  const n = points.length;
  const closed: Pair[] = new Array<Pair>(n + 1);
  for (let i = 0; i < n; i++) closed[i] = toScreen(view, points[i]!);
  closed[n] = closed[0]!;
  line(context, closed);
  context.strokeStyle = COLOURS.paper;
  context.lineWidth = 5;
  context.stroke();
  const colour = (i: number) =>
    edge.doubtful[i] ? COLOURS.vermilion : edge.how[i] === "hand" ? COLOURS.teal : COLOURS.ink;
  let from = 0;
  for (let i = 1; i <= n; i++) {
    if (i < n && colour(i) === colour(from)) continue;
    line(context, closed.slice(from, i + 1));
    context.strokeStyle = colour(from);
    context.lineWidth = 2.5;
    context.stroke();
    from = i;
  }
  paintPoints(context, closed, colour);
}

/** Single points of the edge, once they lie far enough apart to be told apart. */
function paintPoints(context: Context, at: readonly Pair[], colour: (i: number) => string): void {
  const [a, b] = [at[0], at[1]];
  if (!a || !b || Math.hypot(a[0] - b[0], a[1] - b[1]) < 14) return;
  for (let i = 0; i < at.length - 1; i++) {
    const [x, y] = at[i]!;
    if (x < -9 || y < -9 || x > 9999 || y > 9999) continue;
    context.beginPath();
    context.arc(x, y, 4, 0, 7);
    context.fillStyle = COLOURS.paper;
    context.fill();
    context.strokeStyle = colour(i);
    context.lineWidth = 2;
    context.stroke();
  }
}

function paintTags(context: Context, { view, window, photo, units }: Shown): void {
  context.font = LETTERS;
  context.textBaseline = "middle";
  const laid: [number, number, number, number][] = [];
  for (const station of photo.stations) {
    const words = `${station.label}  ${quantityText(station, units)}`;
    const wide = context.measureText(words).width + 14;
    const [a, b] = station.ends.map((p) => toScreen(view, p)) as [Pair, Pair];
    const length = Math.hypot(b[0] - a[0], b[1] - a[1]) || 1;
    const [ux, uy] = [(b[0] - a[0]) / length, (b[1] - a[1]) / length];
    const gap = 16 + Math.abs(ux) * (wide / 2);
    const places: Pair[] = [];
    for (const far of [0, 26, 52])
      places.push(
        [a[0] - ux * (gap + far), a[1] - uy * (gap + far)],
        [b[0] + ux * (gap + far), b[1] + uy * (gap + far)],
      );
    // no room beside the instrument: on the line itself
    places.push([(a[0] + b[0]) / 2, (a[1] + b[1]) / 2 + 20]);
    for (const [x, y] of places) {
      const box: [number, number, number, number] = [x - wide / 2, y - 12, x + wide / 2, y + 12];
      if (box[0] < RULE_PX || box[1] < RULE_PX || box[2] > window.width || box[3] > window.height)
        continue;
      if (laid.some((l) => l[0] < box[2] && l[2] > box[0] && l[1] < box[3] && l[3] > box[1]))
        continue;
      laid.push(box);
      context.fillStyle = COLOURS.paper;
      context.globalAlpha = 0.92;
      context.fillRect(box[0], box[1], wide, 24);
      context.globalAlpha = 1;
      context.fillStyle = COLOURS.pencil;
      context.fillText(words, box[0] + 7, y + 1);
      break;
    }
  }
}

/**
 * A ring or a stretch, with its number, for each refusal and each finding in doubt; the others when
 * they are asked for.
 */
export function paintMarks(
  context: Context,
  view: View,
  marks: readonly Mark[],
  raised: number | null,
): void {
  marks.forEach((mark, n) => {
    const grave = mark.level === "stop" || mark.level === "doubt";
    if (!grave && n !== raised) return;
    const colour = grave ? COLOURS.vermilion : COLOURS.pencil;
    for (const ring of mark.lines) {
      const at = ring.map((p) => toScreen(view, p));
      cased(context, at, colour, n === raised ? 4 : 2.5, mark.closed);
    }
    const first = mark.lines[0]?.map((p) => toScreen(view, p));
    if (!first || first.length === 0) return;
    number(context, first.reduce((a, b) => (b[1] < a[1] ? b : a)), String(n + 1), colour);
  });
}

function number(context: Context, [x, y]: Pair, words: string, colour: string): void {
  context.beginPath();
  context.arc(x, y, 12, 0, 7);
  context.fillStyle = colour;
  context.fill();
  context.strokeStyle = COLOURS.paper;
  context.lineWidth = 2;
  context.stroke();
  context.font = LETTERS;
  context.fillStyle = COLOURS.paper;
  context.textBaseline = "middle";
  context.textAlign = "center";
  context.fillText(words, x, y + 1);
  context.textAlign = "start";
}

/** What the hand drew where it could not be taken. */
export function paintTried(context: Context, view: View, path: readonly Pair[]): void {
  const at = path.map((p) => toScreen(view, p));
  context.setLineDash([6, 5]);
  line(context, at);
  context.strokeStyle = COLOURS.vermilion;
  context.lineWidth = 2.5;
  context.stroke();
  context.setLineDash([]);
  for (const end of [at[0]!, at.at(-1)!]) dot(context, end, 5, COLOURS.vermilion);
}

/** What the hand is doing: a line drawn or a loop laid. */
export function paintDraft(context: Context, view: View, path: readonly Pair[], loop: boolean): void {
  if (path.length === 0) return;
  const at = path.map((p) => toScreen(view, p));
  if (loop && at.length > 2) {
    line(context, at);
    context.closePath();
    context.fillStyle = "rgb(0 165 150 / 0.25)";
    context.fill();
  }
  cased(context, at, COLOURS.teal, 3, loop);
  for (const end of [at[0]!, at.at(-1)!]) dot(context, end, 5, COLOURS.teal);
}

/** The place on the edge that would be taken hold of, or is. */
export function paintGrip(context: Context, view: View, at: Pair, held: boolean): void {
  const [x, y] = toScreen(view, at);
  dot(context, [x, y], held ? 9 : 7, COLOURS.teal);
}

/** Where the keys work. */
export function paintCross(context: Context, window: Size): void {
  const [x, y] = [window.width / 2, window.height / 2];
  for (const [colour, wide] of [
    [COLOURS.paper, 5],
    [COLOURS.teal, 2],
  ] as const) {
    context.beginPath();
    for (const [dx, dy] of [
      [1, 0],
      [-1, 0],
      [0, 1],
      [0, -1],
    ] as const) {
      context.moveTo(x + 5 * dx, y + 5 * dy);
      context.lineTo(x + 18 * dx, y + 18 * dy);
    }
    context.strokeStyle = colour;
    context.lineWidth = wide;
    context.stroke();
  }
}

/** Two steel rules, along the upper and the left side; they count in the body's plane. */
export function paintRules(context: Context, shown: Shown, zero: Pair): void {
  const { view, window, photo, units } = shown;
  if (photo.px_per_mm === null) return;
  const perMm = photo.px_per_mm * view.scale;
  const [x0, y0] = toScreen(view, zero);
  const [steel, steelEdge, engraved] = STEEL[shown.dark ? "lamp" : "day"];
  context.fillStyle = steel;
  context.fillRect(0, 0, window.width, RULE_PX);
  context.fillRect(0, 0, RULE_PX, window.height);
  context.strokeStyle = steelEdge;
  context.lineWidth = 1;
  context.beginPath();
  context.moveTo(RULE_PX, RULE_PX + 0.5);
  context.lineTo(window.width, RULE_PX + 0.5);
  context.moveTo(RULE_PX + 0.5, RULE_PX);
  context.lineTo(RULE_PX + 0.5, window.height);
  context.stroke();
  context.fillStyle = engraved;
  context.font = NUMERALS;
  context.textBaseline = "alphabetic";
  const long = [5, 8, 12];
  for (const tick of ticks(perMm, x0, window.width, units)) {
    if (tick.at < RULE_PX) continue;
    context.fillRect(Math.round(tick.at), RULE_PX - long[tick.rank]!, 1, long[tick.rank]!);
    if (tick.numeral) context.fillText(tick.numeral, Math.round(tick.at) + 3, 13);
  }
  for (const tick of ticks(perMm, y0, window.height, units)) {
    if (tick.at < RULE_PX) continue;
    context.fillRect(RULE_PX - long[tick.rank]!, Math.round(tick.at), long[tick.rank]!, 1);
    if (!tick.numeral) continue;
    context.save();
    context.translate(13, Math.round(tick.at) + 3);
    context.rotate(Math.PI / 2);
    context.fillText(tick.numeral, 0, 0);
    context.restore();
  }
  context.fillText(units, 5, 17);
}

function line(context: Context, at: readonly Pair[]): void {
  context.beginPath();
  for (let i = 0; i < at.length; i++) {
    const [x, y] = at[i]!;
    if (i === 0) context.moveTo(x, y);
    else context.lineTo(x, y);
  }
}

function cased(context: Context, at: readonly Pair[], colour: string, wide: number, loop: boolean): void {
  line(context, at);
  if (loop) context.closePath();
  context.strokeStyle = COLOURS.paper;
  context.lineWidth = wide + 2.5;
  context.stroke();
  context.strokeStyle = colour;
  context.lineWidth = wide;
  context.stroke();
}

function dashed(context: Context, a: Pair, b: Pair): void {
  line(context, [a, b]);
  context.setLineDash([]);
  context.strokeStyle = COLOURS.paper;
  context.lineWidth = 3.5;
  context.globalAlpha = 0.7;
  context.stroke();
  context.globalAlpha = 1;
  context.setLineDash([18, 5, 4, 5]);
  context.strokeStyle = COLOURS.pencil;
  context.lineWidth = 1.5;
  context.stroke();
  context.setLineDash([]);
}

function dot(context: Context, [x, y]: Pair, radius: number, colour: string): void {
  context.beginPath();
  context.arc(x, y, radius, 0, 7);
  context.fillStyle = COLOURS.paper;
  context.fill();
  context.strokeStyle = colour;
  context.lineWidth = 3;
  context.stroke();
}
