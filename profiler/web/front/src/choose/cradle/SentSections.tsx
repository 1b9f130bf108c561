/** Sections on their way, and those that were not taken: with a way back into the form. */

import { Progress } from "../../kit/progress";
import { draftWords } from "./draft";
import type { Sent } from "./sending";

interface Props {
  list: readonly Sent[];
  /** back into the form */
  mend: (one: Sent) => void;
  drop: (one: Sent) => void;
}

export function SentSections({ list, mend, drop }: Props) {
  if (!list.length) return null;
  return (
    <ul class="sent" aria-label="Sections on their way">
      {list.map((one) => (
        <li key={one.id}>
          <b dir="auto">{draftWords(one.draft)}</b>
          {one.trouble ? (
            <>
              <p class="wrong-box" role="alert">
                {one.trouble.message}
              </p>
              <div class="row">
                <button type="button" onClick={() => mend(one)}>
                  Into the form
                </button>
                <button type="button" class="quiet" onClick={() => drop(one)}>
                  Throw it away
                </button>
              </div>
            </>
          ) : one.draft.how === "gauge" ? (
            <Progress
              words={one.share < 1 ? "Sending the photo" : "Reading the curve in the photo"}
              share={one.share < 1 ? 0.5 * one.share : 0.6}
              stop={() => one.stop.abort()}
            />
          ) : (
            <span class="faint small" role="status">
              being added …
            </span>
          )}
        </li>
      ))}
    </ul>
  );
}
