/** Options that are lists, as "neck=leather:2mm": one entry for each place. */

import type { Chosen } from "../../state/kept";

/** What stands for a place in a list option; null for nothing. */
export function entry(chosen: Chosen, option: string, where: string): string | null {
  const list = chosen[option];
  if (!Array.isArray(list)) return null;
  for (const text of list) {
    const [name = "", ...value] = String(text).split("=");
    if (name.trim() === where) return value.join("=").trim();
  }
  return null;
}

/** The options with another entry for a place; null takes it out. */
export function withEntry(chosen: Chosen, option: string, where: string, value: string | null): Chosen {
  const list = Array.isArray(chosen[option]) ? (chosen[option] as unknown[]).map(String) : [];
  const others = list.filter((text) => text.split("=")[0]?.trim() !== where);
  const now = value === null ? others : [...others, `${where}=${value}`];
  return withOption(chosen, option, now.length ? now : undefined);
}

export function withOption(chosen: Chosen, option: string, value: unknown): Chosen {
  const now = { ...chosen };
  if (value === undefined) delete now[option];
  else now[option] = value;
  return now;
}
