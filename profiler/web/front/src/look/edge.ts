/** The seen edge while a hand is on it: what is nearest, and how a pull spreads along it. */

import type { Pair } from "../api/types";

export interface Near {
  index: number;
  distance: number;
}

/** Nearest of the points, px. */
export function nearest(points: readonly Pair[], at: Pair): Near {
  let index = -1;
  let best = Infinity;
  for (let i = 0; i < points.length; i++) {
    const p = points[i]!;
    const d = (p[0] - at[0]) ** 2 + (p[1] - at[1]) ** 2;
    if (d < best) {
      best = d;
      index = i;
    }
  }
  return { index, distance: Math.sqrt(best) };
}

/**
 * The closed edge with one point taken from where it was to another place. Neighbours follow less
 * and less, along a raised cosine, and not at all beyond `reach` px along the edge.
 */
export function pulled(points: readonly Pair[], index: number, to: Pair, reach: number): Pair[] {
  const out = points.map((p): Pair => [p[0], p[1]]);
  const held = points[index];
  if (!held) return out;
  const dx = to[0] - held[0];
  const dy = to[1] - held[1];
  out[index] = [to[0], to[1]];
  for (const way of [1, -1]) {
    let gone = 0;
    let before = index;
    for (let n = 1; n < points.length / 2; n++) {
      const i = (index + way * n + points.length) % points.length;
      const a = points[before]!;
      const b = points[i]!;
      gone += Math.hypot(b[0] - a[0], b[1] - a[1]);
      if (gone >= reach) break;
      const share = 0.5 * (1 + Math.cos((Math.PI * gone) / reach));
      out[i] = [b[0] + share * dx, b[1] + share * dy];
      before = i;
    }
  }
  return out;
}

/** The index `px` further along the edge, against its running where negative. */
export function along(points: readonly Pair[], index: number, px: number): number {
  const way = px < 0 ? -1 : 1;
  let left = Math.abs(px);
  let i = index;
  for (let n = 0; n < points.length && left > 0; n++) {
    const next = (i + way + points.length) % points.length;
    left -= Math.hypot(points[next]![0] - points[i]![0], points[next]![1] - points[i]![1]);
    i = next;
  }
  return i;
}

/** Not more than `most` points, and none nearer than `least` px to the one before. */
export function thinned(path: readonly Pair[], least: number, most: number): Pair[] {
  const out: Pair[] = [];
  for (const p of path) {
    const last = out.at(-1);
    if (!last || Math.hypot(p[0] - last[0], p[1] - last[1]) >= least) out.push(p);
  }
  const end = path.at(-1);
  if (end && out.at(-1) !== end) out.push(end);
  while (out.length > most) {
    const half = out.filter((_, i) => i % 2 === 0 || i === out.length - 1);
    out.length = 0;
    out.push(...half);
  }
  return out;
}
