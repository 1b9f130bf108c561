/** Where on the case a remark belongs: numbered in the drawings and in the list below them. */

import type { Finding, Mark, Pair, Plan } from "../api/types";

export interface Spot {
  number: number;
  /** mm: from above in the case's frame; from the front along it, and up */
  at: Pair;
}

export interface Remarked {
  marks: Mark[];
  above: Spot[];
  front: Spot[];
}

/** Findings that speak of the case as a whole, or of its sheets, get no place. */
export function remarked(plan: Plan, findings: readonly Finding[]): Remarked {
  const found: Remarked = { marks: [], above: [], front: [] };
  for (const f of findings) {
    const above = fromAbove(plan, f);
    const front = fromTheFront(plan, f);
    if (!above.length && !front.length) continue;
    found.marks.push({ level: f.level, code: f.code, message: f.message, lines: [], closed: false });
    const number = found.marks.length;
    found.above.push(...above.map((at) => ({ number, at })));
    found.front.push(...front.map((at) => ({ number, at })));
  }
  return found;
}

function fromAbove(plan: Plan, f: Finding): Pair[] {
  const [inX, inY] = plan.box.inside;
  const [tailX, tailY] = plan.instrument.tail_at;
  const xs = plan.instrument.outline.map((p) => p[0]);
  const ys = plan.instrument.outline.map((p) => p[1]);
  if (f.where === "at the ends")
    return [
      [Math.min(...xs) / 2, tailY],
      [(Math.max(...xs) + inX) / 2, tailY],
    ];
  if (f.where === "at the sides") {
    // where it is widest
    const low = plan.instrument.outline[ys.indexOf(Math.min(...ys))]!;
    const high = plan.instrument.outline[ys.indexOf(Math.max(...ys))]!;
    return [
      [low[0], low[1] / 2],
      [high[0], (high[1] + inY) / 2],
    ];
  }
  if (f.where === "covers" || f.where === "compartments")
    return plan.compartments.length
      ? plan.compartments.map((c) => [
          (c.from + c.to) / 2,
          c.side === "front" ? c.width / 2 : inY - c.width / 2,
        ])
      : [[tailX + 0.68 * plan.instrument.length, 0.15 * inY]];
  return [];
}

function fromTheFront(plan: Plan, f: Finding): Pair[] {
  const { base, lid } = plan.box;
  const length = plan.box.outside[0];
  if (f.where === "over the thickest place") return [[length / 3, base + lid / 2]];
  if (f.where === "handle") {
    const handle = plan.fittings.find((x) => x.kind === "handle");
    return handle ? [[handle.u, handle.v - 16]] : [[length / 2, base / 2]];
  }
  if (f.where === "latch" || f.where === "hinge") {
    const said = /near ([\d.]+) mm/.exec(f.message);
    return said ? [[Number(said[1]), base]] : [];
  }
  return [];
}
