/** What has to be said beside the view: shown at the foot and read aloud. */

import { signal } from "@preact/signals";
import { Refusal } from "../api/http";

export interface Notice {
  id: number;
  words: string;
  trouble: boolean;
}

export const notices = signal<Notice[]>([]);
/** Read aloud only: what a look at the view would tell. */
export const spoken = signal("");

let next = 1;

export function say(words: string, trouble = false): void {
  if (notices.value.some((n) => n.words === words)) return;
  const id = next++;
  notices.value = [...notices.value.slice(-2), { id, words, trouble }];
  if (!trouble) setTimeout(() => unsay(id), 7000);
}

export function unsay(id: number): void {
  notices.value = notices.value.filter((n) => n.id !== id);
}

export function speak(words: string): void {
  spoken.value = words;
}

/** The sentence for something that went wrong; nothing for what the user stopped. */
export function sayTrouble(error: unknown): void {
  if (error instanceof DOMException && error.name === "AbortError") return;
  if (error instanceof Refusal && error.code === "cancelled") return say("Stopped.");
  if (error instanceof Refusal) return say(error.message, true);
  console.error(error);
  say("Something on this page went wrong. Reload it; nothing that was kept is lost.", true);
}
