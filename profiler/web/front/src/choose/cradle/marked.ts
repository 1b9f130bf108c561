/** Remarks and refusals that speak of a piece: which piece that is, so that the drawing can show it. */

import type { CradlePlan, CradleView, Finding, Mark } from "../../api/types";
import type { Refusal } from "../../api/http";

/** A number at a piece, as in the list of remarks. */
export interface PieceMark {
  number: number;
  key: string;
  name: string;
}

const NOT_MADE = 820;

/** Numbers go on from those of the pieces that cannot be made. */
export function marksOf(
  view: CradleView,
  findings: readonly Finding[],
): { marks: Mark[]; pieces: PieceMark[]; keys: string[] } {
  const marks: Mark[] = [];
  const pieces: PieceMark[] = [];
  const keys: string[] = [];
  const add = (f: Finding | undefined, key: string) => {
    marks.push({
      level: f?.level ?? "caution",
      code: f?.code ?? null,
      message: f?.message ?? "",
      lines: [],
      closed: false,
    });
    keys.push(key);
  };
  for (const place of view.places)
    add(findings.find((f) => f.code === NOT_MADE && f.where === place.name), place.key);
  for (const f of findings) {
    if (f.code === NOT_MADE) continue;
    const meant = view.cuts.filter((c) => f.where === c.name || (f.where === "fit" && f.message.includes(c.name)));
    // what is said of every piece is said of no place
    if (!meant.length || (f.where === "fit" && meant.length === view.cuts.length)) continue;
    add(f, meant[0]!.key);
    for (const cut of meant) pieces.push({ number: marks.length, key: cut.key, name: cut.name });
  }
  return { marks, pieces, keys };
}

/** Keys of the pieces that a refusal speaks of. */
export function refusedKeys(view: CradleView, plan: CradlePlan, refusal: Refusal | null): string[] {
  if (!refusal) return [];
  const said = refusal.message;
  const names = Object.keys(plan.contacts).filter((key) => new RegExp(`\\b${key}\\b`).test(said));
  return view.cuts
    .filter((c) => {
      const piece = ["neck", "headstock", "tail"].includes(c.key) ? c.key : "blocks";
      // the strap button's slot is in the tail rest
      return names.includes(piece) || said.includes(c.key) || (piece === "tail" && names.includes("button"));
    })
    .map((c) => c.key);
}
