/** From px of the view to mm at a height, and back; frames as the server describes them. */

import type { Camera, Pair, PhotoView } from "../api/types";

type Vector = [number, number, number];
type Matrix = Camera["rays"];

function times(m: Matrix, v: Vector): Vector {
  return m.map((row) => row[0] * v[0] + row[1] * v[1] + row[2] * v[2]) as Vector;
}

/** Mat frame, mm, at height z above the bench. */
export function onMat(camera: Camera, [u, v]: Pair, z: number): Pair {
  const ray = times(camera.rays, [u, v, 1]);
  const [cx, cy, cz] = camera.centre;
  const far = (z - cz) / ray[2];
  return [cx + far * ray[0], cy + far * ray[1]];
}

/** Distance in mm of two px, both taken to lie at height z. */
export function distance(camera: Camera, a: Pair, b: Pair, z: number): number {
  const [ax, ay] = onMat(camera, a, z);
  const [bx, by] = onMat(camera, b, z);
  return Math.hypot(bx - ax, by - ay);
}

/** Instrument frame: x from the tail along the centreline, y to the left; null without a frame. */
export function onInstrument(view: PhotoView, at: Pair, z: number): Pair | null {
  if (!view.frame) return null;
  const [x, y] = onMat(view.camera, at, z);
  const [dx, dy] = [x - view.frame.origin[0], y - view.frame.origin[1]];
  const [c, s] = [Math.cos(view.frame.angle_rad), Math.sin(view.frame.angle_rad)];
  return [c * dx + s * dy, -s * dx + c * dy];
}
