/**
 * The server's photo laid on the board: turned by quarters so that instrument and window lie the
 * same way, and with 0, 0 at the upper left px's corner, where a canvas has it, not its centre.
 */

import type { Camera, Pair, PhotoView } from "../api/types";
import type { Size } from "./view";

/** Quarters against the clock. */
export type Quarter = 0 | 1 | 3;
type Matrix = Camera["px"];

/** Board px from the view's px. */
function boardFromView([width, height]: Pair, quarter: Quarter): Matrix {
  if (quarter === 1) return [[0, 1, 0.5], [-1, 0, width - 0.5], [0, 0, 1]];
  if (quarter === 3) return [[0, -1, height - 0.5], [1, 0, 0.5], [0, 0, 1]];
  return [[1, 0, 0.5], [0, 1, 0.5], [0, 0, 1]];
}

function viewFromBoard([width, height]: Pair, quarter: Quarter): Matrix {
  if (quarter === 1) return [[0, -1, width - 0.5], [1, 0, -0.5], [0, 0, 1]];
  if (quarter === 3) return [[0, 1, -0.5], [-1, 0, height - 0.5], [0, 0, 1]];
  return [[1, 0, -0.5], [0, 1, -0.5], [0, 0, 1]];
}

function product(a: Matrix, b: Matrix): Matrix {
  return a.map((row) =>
    [0, 1, 2].map((j) => row[0] * b[0]![j]! + row[1] * b[1]![j]! + row[2] * b[2]![j]!),
  ) as Matrix;
}

function mapped(m: Matrix, [x, y]: Pair): Pair {
  return [m[0][0] * x + m[0][1] * y + m[0][2], m[1][0] * x + m[1][1] * y + m[1][2]];
}

/** A point of the board as the server knows it. */
export function toServer(size: Pair, quarter: Quarter, at: Pair): Pair {
  return mapped(viewFromBoard(size, quarter), at);
}

/** And back. */
export function toBoard(size: Pair, quarter: Quarter, at: Pair): Pair {
  return mapped(boardFromView(size, quarter), at);
}

export function onBoard(photo: PhotoView, quarter: Quarter): PhotoView {
  const m = boardFromView(photo.size, quarter);
  const back = viewFromBoard(photo.size, quarter);
  const all = <T extends readonly Pair[]>(points: T): T => points.map((p) => mapped(m, p)) as unknown as T;
  const [width, height] = photo.size;
  return {
    ...photo,
    size: quarter === 0 ? [width, height] : [height, width],
    camera: {
      centre: photo.camera.centre,
      rays: product(photo.camera.rays, back),
      px: product(m, photo.camera.px),
    },
    edge: photo.edge && { ...photo.edge, points: all(photo.edge.points) },
    centreline: photo.centreline && all(photo.centreline),
    stations: photo.stations.map((s) => ({ ...s, ends: all(s.ends) })),
    cards: photo.cards.map((c) => ({ ...c, corners: all(c.corners) })),
    sheets: photo.sheets.map((s) => ({ ...s, corners: all(s.corners) })),
    marks: photo.marks.map((k) => ({ ...k, lines: k.lines.map(all) })),
  };
}

/** How to turn the photo so that the instrument's long side runs along the window's. */
export function quarterFor(photo: PhotoView, window: Size): Quarter {
  const points = photo.edge?.points ?? photo.sheets.flatMap((s) => s.corners);
  if (points.length === 0 || !window.width) return 0;
  const xs = points.map((p) => p[0]);
  const ys = points.map((p) => p[1]);
  const ratio = (Math.max(...xs) - Math.min(...xs)) / Math.max(1, Math.max(...ys) - Math.min(...ys));
  const upright = window.height > 1.25 * window.width;
  const lying = window.width > 1.25 * window.height;
  const [tail, head] = photo.centreline ?? [[0, 0], [0, 0]];
  // the headstock comes up, or to the right
  if (upright && ratio > 1.25) return head[0] >= tail[0] ? 1 : 3;
  if (lying && ratio < 0.8) return head[1] <= tail[1] ? 3 : 1;
  return 0;
}

/** The picture turned along with it. */
export async function turnedPicture(bitmap: ImageBitmap, quarter: Quarter): Promise<ImageBitmap> {
  if (quarter === 0) return bitmap;
  const canvas = document.createElement("canvas");
  canvas.width = bitmap.height;
  canvas.height = bitmap.width;
  const context = canvas.getContext("2d")!;
  if (quarter === 1) context.setTransform(0, -1, 1, 0, 0, bitmap.width);
  else context.setTransform(0, 1, -1, 0, bitmap.height, 0);
  context.drawImage(bitmap, 0, 0);
  bitmap.close();
  return createImageBitmap(canvas);
}
