/** A wish that cannot be, as something that can be drawn into the case as it is without it. */

import type { Place, Plan, Units } from "../api/types";
import { millimetres } from "../kit/lengths";

export interface Misfit {
  /** marks for the plan, instrument frame */
  places: Place[];
  /** leaves that do not fit on front or back, mm above and below the parting line */
  leaves: { kind: "latch" | "hinge"; upper: number; lower: number } | null;
  /** a lid's height that cannot be, mm */
  lid: number | null;
  /** width along the front of what is too wide, mm */
  wide: { kind: "latch" | "handle"; width: number } | null;
}

const NONE: Misfit = { places: [], leaves: null, lid: null, wide: null };

/**
 * @param plan of the case without that wish.
 * @param option its name.
 * @param value as it was typed.
 */
export function misfitOf(plan: Plan, option: string, value: unknown, units: Units): Misfit {
  if (typeof value !== "string") return NONE;
  if (option === "latch" || option === "hinge") {
    const [upper, lower] = pair(value, units);
    return upper === null || lower === null ? NONE : { ...NONE, leaves: { kind: option, upper, lower } };
  }
  const mm = millimetres(value, units);
  if (mm === null) return NONE;
  if (option === "lid") return { ...NONE, lid: mm };
  if (option === "hardware_width") return { ...NONE, wide: { kind: "latch", width: mm } };
  if (option === "handle") return { ...NONE, wide: { kind: "handle", width: mm } };
  if (option === "compartment_length" || option === "compartment_width")
    return { ...NONE, places: compartmentPlaces(plan, option, mm) };
  return NONE;
}

/** The compartment that was wished for, laid where there is room for one. */
function compartmentPlaces(plan: Plan, option: string, mm: number): Place[] {
  const [tailX, tailY] = plan.instrument.tail_at;
  const high = plan.box.inside[1];
  return plan.compartments.map((c) => {
    const along = option === "compartment_length";
    const length = along ? mm : c.useful[0];
    const width = along ? c.useful[1] : mm;
    const [y0, y1] = c.side === "front" ? [0, width] : [high - width, high];
    return {
      box: [c.to - length - tailX, y0 - tailY, c.to - tailX, y1 - tailY],
      words: "compartment",
      over: mm - (along ? c.useful[0] : c.useful[1]),
    };
  });
}

/** "18x28mm": both have the unit that is written last. */
function pair(text: string, units: Units): [number | null, number | null] {
  const [first = "", second = ""] = text.split(/[x×]/i);
  const unit = /(mm|cm|in|")\s*$/i.exec(second)?.[1] ?? units;
  const own = /[a-z"]/i.test(first);
  return [millimetres(own ? first : `${first}${unit}`, units), millimetres(second, units)];
}
