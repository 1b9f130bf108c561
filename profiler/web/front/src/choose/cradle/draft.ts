/** A section as it stands in the form: kept by the browser's window until it has been taken. */

import type { Job, Units } from "../../api/types";

export type How = "word" | "gauge" | "between";

export interface Draft {
  how: How;
  fields: Record<string, string>;
  from: "tail" | "nut";
  word: string;
  tracing: boolean;
  /** seen from the head */
  head: boolean;
  flush: boolean;
  tips: string;
  file: File | null;
}

export const NO_DRAFT: Draft = {
  how: "word",
  fields: {},
  from: "tail",
  word: "round",
  tracing: false,
  head: false,
  flush: false,
  tips: "round",
  file: null,
};

/** Nothing in it that a hand would have to type again. */
export function untouched(draft: Draft): boolean {
  return draft.file === null && Object.values(draft.fields).every((text) => text.trim() === "");
}

/** The form after its section was sent: the ways of counting and measuring stay. */
export function emptied(draft: Draft): Draft {
  return { ...draft, fields: {}, file: null };
}

/** What is asked for, in words. */
export function draftWords(draft: Draft): string {
  const { at = "", depth = "" } = draft.fields;
  const place = at.trim() ? `at ${at.trim()}${draft.from === "nut" ? " from the nut" : ""}` : "no station";
  const kind =
    draft.how === "word" ? draft.word : draft.how === "between" ? "between two" : (draft.file?.name ?? "gauge photo");
  return [place, kind, depth.trim() ? `deep ${depth.trim()}` : ""].filter(Boolean).join(", ");
}

/** The section as the server is asked for it. */
export function asked(draft: Draft, units: Units): Record<string, string> {
  const said = { ...draft.fields, from: draft.from, units };
  if (draft.how === "word") return { ...said, shape: draft.word };
  if (draft.how === "between") return said;
  return {
    ...said,
    kind: draft.tracing ? "tracing" : "gauge",
    seen_from: draft.head ? "head" : "tail",
    flush: draft.flush ? "true" : "",
    tips: draft.tips,
  };
}

const key = (job: Job) => `section ${job.id}`;

/** As it was before the page was loaded again; a photo cannot be kept. */
export function keptDraft(job: Job): Draft {
  try {
    const kept: unknown = JSON.parse(sessionStorage.getItem(key(job)) ?? "null");
    if (typeof kept !== "object" || kept === null) return NO_DRAFT;
    return { ...NO_DRAFT, ...(kept as Partial<Draft>), file: null };
  } catch {
    return NO_DRAFT;
  }
}

export function keepDraft(job: Job, draft: Draft): void {
  try {
    sessionStorage.setItem(key(job), JSON.stringify({ ...draft, file: null }));
  } catch {
    // private windows keep nothing
  }
}
