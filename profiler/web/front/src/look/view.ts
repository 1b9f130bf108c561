/** Where the photo lies under the window: scale and offset, and what zooming does to them. */

export type Point = readonly [number, number];

export interface Size {
  readonly width: number;
  readonly height: number;
}

/** `scale` is CSS px per photo px; `x`, `y` are the photo px at the window's upper left corner. */
export interface View {
  readonly scale: number;
  readonly x: number;
  readonly y: number;
}

/** A photo px fills this many CSS px at most. */
export const MOST_SCALE = 64;

export function toScreen(view: View, [x, y]: Point): [number, number] {
  return [(x - view.x) * view.scale, (y - view.y) * view.scale];
}

export function toPhoto(view: View, [x, y]: Point): [number, number] {
  return [x / view.scale + view.x, y / view.scale + view.y];
}

/** The whole photo, in the middle of the window. */
export function fit(photo: Size, window: Size, margin = 0): View {
  const scale = Math.min(
    Math.max(1, window.width - 2 * margin) / photo.width,
    Math.max(1, window.height - 2 * margin) / photo.height,
  );
  return centred(photo.width / 2, photo.height / 2, scale, window);
}

/** A box of the photo, with room round it. */
export function fitBox(low: Point, high: Point, window: Size, margin: number): View {
  const scale = Math.min(
    Math.max(1, window.width - 2 * margin) / Math.max(1, high[0] - low[0]),
    Math.max(1, window.height - 2 * margin) / Math.max(1, high[1] - low[1]),
    MOST_SCALE,
  );
  return centred((low[0] + high[0]) / 2, (low[1] + high[1]) / 2, scale, window);
}

export function centred(x: number, y: number, scale: number, window: Size): View {
  return { scale, x: x - window.width / (2 * scale), y: y - window.height / (2 * scale) };
}

/** Zoomed so that what lies under `at` (CSS px) stays there. */
export function zoomed(view: View, factor: number, at: Point, photo: Size, window: Size): View {
  const least = 0.5 * fit(photo, window).scale;
  const scale = Math.min(MOST_SCALE, Math.max(least, view.scale * factor));
  const [px, py] = toPhoto(view, at);
  return kept({ scale, x: px - at[0] / scale, y: py - at[1] / scale }, photo, window);
}

export function moved(view: View, dx: number, dy: number, photo: Size, window: Size): View {
  return kept({ ...view, x: view.x - dx / view.scale, y: view.y - dy / view.scale }, photo, window);
}

/** The middle of the window never leaves the photo, so nobody gets lost beside it. */
export function kept(view: View, photo: Size, window: Size): View {
  const w = window.width / (2 * view.scale);
  const h = window.height / (2 * view.scale);
  return {
    scale: view.scale,
    x: Math.min(photo.width, Math.max(0, view.x + w)) - w,
    y: Math.min(photo.height, Math.max(0, view.y + h)) - h,
  };
}
