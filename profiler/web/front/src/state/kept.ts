/** Choices that are not part of the job yet: kept by the browser, so that reload loses nothing. */

import { signal } from "@preact/signals";
import type { Text } from "../api/types";

export type Which = "template" | "case";

export interface Wishes {
  /** what is looked at, in Choose and in Print */
  which: Which;
  /** of the case, by option name */
  options: Record<string, unknown>;
  clearance: Text;
  /** null: one big page */
  paper: string | null;
}

export const NO_WISHES: Wishes = { which: "template", options: {}, clearance: "", paper: null };

const key = (id: string) => `wishes ${id}`;

export const wishes = signal<{ id: string; now: Wishes }>({ id: "", now: NO_WISHES });

export function wishesOf(id: string): Wishes {
  if (wishes.value.id !== id) wishes.value = { id, now: read(id) };
  return wishes.value.now;
}

export function wish(id: string, change: Partial<Wishes>): void {
  const now = { ...wishesOf(id), ...change };
  wishes.value = { id, now };
  try {
    localStorage.setItem(key(id), JSON.stringify(now));
  } catch {
    // private windows keep nothing; the page works all the same
  }
}

function read(id: string): Wishes {
  try {
    const kept: unknown = JSON.parse(localStorage.getItem(key(id)) ?? "null");
    if (typeof kept !== "object" || kept === null) return NO_WISHES;
    const { which, options, clearance, paper } = kept as Partial<Wishes>;
    return {
      which: which === "case" ? "case" : "template",
      options: typeof options === "object" && options !== null ? options : {},
      clearance: typeof clearance === "string" ? clearance : "",
      paper: typeof paper === "string" ? paper : null,
    };
  } catch {
    return NO_WISHES;
  }
}
