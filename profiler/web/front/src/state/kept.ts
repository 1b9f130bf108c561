/** Choices that are not part of the job yet: kept by the browser, so that reload loses nothing. */

import { signal } from "@preact/signals";
import type { Text } from "../api/types";

export type Which = "template" | "case" | "cradle";
export type Chosen = Record<string, unknown>;

export interface Wishes {
  /** what is looked at, in Choose and in Print */
  which: Which;
  /** of the case, by option name */
  options: Chosen;
  /** of the cradle, likewise, and as it was before, for undo and redo */
  cradle: Chosen;
  past: Chosen[];
  future: Chosen[];
  clearance: Text;
  /** null: one big page */
  paper: string | null;
}

export const NO_WISHES: Wishes = {
  which: "template",
  options: {},
  cradle: {},
  past: [],
  future: [],
  clearance: "",
  paper: null,
};

/** So many steps can be undone. */
const MOST_STEPS = 60;
/** Changes of one thing within this time, ms, are one step: a drag, a word being typed. */
const ONE_STEP_MS = 1500;

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

let last = { what: "", at: 0 };

/** Another cradle; `what` is changed, and while the same thing goes on changing it is one step. */
export function wishCradle(id: string, cradle: Chosen, what: string): void {
  const before = wishesOf(id);
  const goesOn = what === last.what && Date.now() - last.at < ONE_STEP_MS && before.past.length > 0;
  last = { what, at: Date.now() };
  const past = goesOn ? before.past : [...before.past, before.cradle].slice(-MOST_STEPS);
  wish(id, { cradle, past, future: [] });
}

export function undoCradle(id: string): void {
  const { past, cradle, future } = wishesOf(id);
  const before = past.at(-1);
  last = { what: "", at: 0 };
  if (before) wish(id, { cradle: before, past: past.slice(0, -1), future: [...future, cradle] });
}

export function redoCradle(id: string): void {
  const { past, cradle, future } = wishesOf(id);
  const after = future.at(-1);
  last = { what: "", at: 0 };
  if (after) wish(id, { cradle: after, past: [...past, cradle], future: future.slice(0, -1) });
}

// what another window of this browser chose is chosen here too: else the two would fight
addEventListener("storage", (event) => {
  const { id } = wishes.value;
  if (id !== "" && event.key === key(id)) wishes.value = { id, now: read(id) };
});

function read(id: string): Wishes {
  try {
    const kept: unknown = JSON.parse(localStorage.getItem(key(id)) ?? "null");
    if (typeof kept !== "object" || kept === null) return NO_WISHES;
    const { which, options, cradle, past, future, clearance, paper } = kept as Partial<Wishes>;
    return {
      which: which === "case" || which === "cradle" ? which : "template",
      options: chosen(options),
      cradle: chosen(cradle),
      past: Array.isArray(past) ? past.map(chosen) : [],
      future: Array.isArray(future) ? future.map(chosen) : [],
      clearance: typeof clearance === "string" ? clearance : "",
      paper: typeof paper === "string" ? paper : null,
    };
  } catch {
    return NO_WISHES;
  }
}

function chosen(found: unknown): Chosen {
  return typeof found === "object" && found !== null && !Array.isArray(found) ? (found as Chosen) : {};
}
