/** Sections on their way to the job. Each stays here, as it was typed, until it has been taken. */

import { signal } from "@preact/signals";
import type { Job, Units } from "../../api/types";
import { say, speak } from "../../state/notices";
import { openId } from "../../state/store";
import { asked, draftWords, type Draft } from "./draft";
import { changeShape, sendGauge, type Told } from "./shape";

export interface Sent {
  id: number;
  job: string;
  draft: Draft;
  /** how much of its photo has gone; 1: it is being read */
  share: number;
  /** refused, or laid aside by the hand: it waits for the hand then */
  trouble: Told | null;
  stop: AbortController;
}

export const sent = signal<readonly Sent[]>([]);

let next = 1;

/** @returns true where it was taken. */
export async function sendSection(job: Job, draft: Draft, units: Units): Promise<boolean> {
  const mine = lay(job.id, draft, null);
  const { stop } = mine;
  const fields = asked(draft, units);
  const trouble =
    draft.how === "gauge" && draft.file
      ? await sendGauge(job, draft.file, fields, (share) => alter(mine.id, { share }), stop.signal)
      : await changeShape(job, "/sections", fields);
  if (trouble === null) {
    take(mine.id);
    speak("The section was added.");
    return true;
  }
  alter(mine.id, { trouble });
  if (openId() !== job.id)
    say(`A section (${draftWords(draft)}) was not taken: ${trouble.message} It waits in its job's cradle.`, true);
  return false;
}

/** Lays a section aside that is not to be sent yet. */
export function layAside(job: Job, draft: Draft): void {
  lay(job.id, draft, { option: null, message: "Laid aside." });
}

/** Takes it out of the list; null where it is not there. */
export function take(id: number): Sent | null {
  const found = sent.value.find((s) => s.id === id) ?? null;
  sent.value = sent.value.filter((s) => s.id !== id);
  return found;
}

function lay(job: string, draft: Draft, trouble: Told | null): Sent {
  const one: Sent = { id: next++, job, draft, share: 0, trouble, stop: new AbortController() };
  sent.value = [...sent.value, one];
  return one;
}

function alter(id: number, change: Partial<Sent>): void {
  sent.value = sent.value.map((s) => (s.id === id ? { ...s, ...change } : s));
}
