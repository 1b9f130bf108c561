/** The neck's profile at any place, between those that the server sent. */

import type { CradleView, Pair, Ring } from "../../api/types";

/** mm, cradle frame; null where the neck's shape is not known. */
export function profileAt(neck: CradleView["neck"], x: number): Ring | null {
  const { at, profiles } = neck;
  const last = at.length - 1;
  if (last < 1 || x < at[0]! || x > at[last]!) return null;
  let i = at.findIndex((place) => place > x) - 1;
  if (i < 0) i = last - 1;
  const share = (x - at[i]!) / (at[i + 1]! - at[i]!);
  const [one, other] = [profiles[i]!, profiles[i + 1]!];
  return one.map(([y, z], n): Pair => {
    const [y1, z1] = other[n] ?? [y, z];
    return [y + share * (y1 - y), z + share * (z1 - z)];
  });
}

const SOURCES: Record<string, string> = {
  gauge: "gauge photo",
  tracing: "tracing",
  typed: "a word",
  between: "put between two others",
};

/** Where the profile at x comes from, in words. */
export function sourceAt(neck: CradleView["neck"], x: number): string {
  const known = neck.sections;
  const says = (s: (typeof known)[number]) =>
    `“${s.name}” (${SOURCES[s.source] ?? s.source}${s.source === "typed" && s.detail ? `: ${s.detail}` : ""})`;
  const there = known.find((s) => Math.abs(s.x - x) < 0.3);
  if (there) return `as ${says(there)}`;
  const before = known.filter((s) => s.x < x).at(-1);
  const after = known.find((s) => s.x > x);
  if (before && after) return `between ${says(before)} and ${says(after)}`;
  const only = before ?? after;
  if (!only) return "";
  return known.length === 1
    ? `carried on from ${says(only)}, as wide as the outline is here`
    : `carried on beyond ${says(only)}`;
}
