/** A steel rule: which ticks it has at a zoom, in mm or in inches. */

import type { Units } from "../api/types";

const MM_PER_INCH = 25.4;
/** CSS px that lie between two ticks, and between two numerals, at least. */
const TICK_ROOM = 6;
const NUMERAL_ROOM = 46;

export interface Tick {
  /** CSS px along the rule */
  at: number;
  /** 0 short, 1 middle, 2 long with numeral */
  rank: 0 | 1 | 2;
  numeral: string;
}

const MM_STEPS = [0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100, 200, 500, 1000];
const INCH_STEPS = [1 / 64, 1 / 32, 1 / 16, 1 / 8, 1 / 4, 1 / 2, 1, 2, 4, 8, 12, 24];

/**
 * @param pxPerMm CSS px.
 * @param zero CSS px where the rule begins to count.
 * @param length CSS px of the rule.
 */
export function ticks(pxPerMm: number, zero: number, length: number, units: Units): Tick[] {
  const unit = units === "mm" ? pxPerMm : pxPerMm * MM_PER_INCH;
  const steps = units === "mm" ? MM_STEPS : INCH_STEPS;
  const fine = steps.find((s) => s * unit >= TICK_ROOM) ?? steps.at(-1)!;
  const long = steps.find((s) => s * unit >= NUMERAL_ROOM && whole(s / fine)) ?? steps.at(-1)!;
  const perLong = Math.round(long / fine);
  const first = Math.ceil(-zero / (fine * unit));
  const last = Math.floor((length - zero) / (fine * unit));
  const out: Tick[] = [];
  for (let n = first; n <= last; n++) {
    const rank = n % perLong === 0 ? 2 : (2 * n) % perLong === 0 ? 1 : 0;
    const value = n * fine;
    out.push({
      at: zero + value * unit,
      rank,
      numeral: rank === 2 ? numeral(value, units) : "",
    });
  }
  return out;
}

function whole(ratio: number): boolean {
  return Math.abs(ratio - Math.round(ratio)) < 1e-9;
}

function numeral(value: number, units: Units): string {
  if (units === "mm") return String(Math.round(value * 10) / 10);
  const sign = value < 0 ? "-" : "";
  const steps = Math.round(Math.abs(value) * 64);
  const full = Math.floor(steps / 64);
  let top = steps % 64;
  let bottom = 64;
  if (top === 0) return `${sign}${full}`;
  while (top % 2 === 0) {
    top /= 2;
    bottom /= 2;
  }
  return `${sign}${full ? `${full} ` : ""}${top}/${bottom}`;
}
