/** Numbers for people, where the server sends none ready to show: what the hand is just moving. */

import type { Quantity, Units } from "../api/types";

const MM_PER_INCH = 25.4;

/** As the server words it: "12.3 mm" or "31/64 in". */
export function shown(mm: number, units: Units, step = 64): string {
  return units === "mm" ? `${inMm(mm)} mm` : inches(mm, step);
}

function inMm(mm: number): string {
  const fixed = mm.toFixed(1);
  return fixed === "-0.0" ? "0.0" : fixed;
}

function inches(mm: number, step: number): string {
  const steps = Math.round((Math.abs(mm) / MM_PER_INCH) * step);
  const whole = Math.floor(steps / step);
  let top = steps % step;
  let bottom = step;
  const sign = mm < 0 && steps > 0 ? "-" : "";
  if (top === 0) return `${sign}${whole} in`;
  while (top % 2 === 0 && bottom % 2 === 0) {
    top /= 2;
    bottom /= 2;
  }
  return `${sign}${whole ? `${whole} ` : ""}${top}/${bottom} in`;
}

export function quantityText(q: Quantity, units: Units): string {
  return q.value === null ? `not known: ${q.reason}` : q[units];
}

/** What was typed, with the page's unit where none was typed. */
export function withUnit(text: string, units: Units): string {
  return /[a-z"'′″]/i.test(text) ? text : `${text} ${units}`;
}

/** What was typed, in mm, for drawing it; null where it is not understood. The server judges. */
export function millimetres(text: string, units: Units): number | null {
  const found = /^\s*(?:(\d+)[\s-]+)?(\d+(?:[.,]\d+)?)(?:\/(\d+))?\s*(mm|cm|in|"|″)?\s*$/i.exec(text);
  if (!found) return null;
  const [, whole, top = "0", bottom, unit] = found;
  if (whole !== undefined && bottom === undefined) return null;
  const number = Number(top.replace(",", ".")) / Number(bottom ?? 1) + Number(whole ?? 0);
  const size = { mm: 1, cm: 10 }[(unit ?? units).toLowerCase()] ?? MM_PER_INCH;
  return Number.isFinite(number) ? number * size : null;
}
