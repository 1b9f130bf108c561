/** The first round's own page, and the guide that goes along at the foot of the others. */

import { signal } from "@preact/signals";
import { useEffect, useRef } from "preact/hooks";
import { go, route } from "../state/route";
import { bench, job, setSettings } from "../state/store";
import { sampleId, STEPS } from "./steps";

const KEY = "tour step";
const at = signal(read());

function read(): number {
  try {
    const n = Number(localStorage.getItem(KEY) ?? 0);
    return Number.isInteger(n) && n >= 0 && n < STEPS.length ? n : 0;
  } catch {
    return 0;
  }
}

function turnTo(n: number): void {
  at.value = n;
  try {
    localStorage.setItem(KEY, String(n));
  } catch {
    // then a reload begins the round anew
  }
  const to = STEPS[n]!.to(sampleId());
  // the step that opens the sample has no job yet to go to
  if (to.view !== "tour") go(to);
}

async function begin(): Promise<void> {
  await setSettings({ tour: "running" });
  turnTo(0);
}

export function Tour() {
  const running = bench.value?.settings.tour === "running";
  return (
    <div class="column">
      <section class="sheet marked" aria-labelledby="tour-title">
        <h1 id="tour-title">The first round</h1>
        <p>
          From the printed mat to a finished job with template, case, cradle and archive, on a sample photo. No
          phone, no printer; ten minutes.
        </p>
        <ol class="tour-list">
          {STEPS.map((step) => (
            <li key={step.title}>{step.title}</li>
          ))}
        </ol>
        <div class="row">
          <button type="button" class="next" onClick={() => void begin()}>
            {running ? "Begin again" : "Begin"}
          </button>
          {running && (
            <button type="button" onClick={() => turnTo(at.value)}>
              Go on at “{STEPS[at.value]!.title}”
            </button>
          )}
        </div>
      </section>
    </div>
  );
}

export function TourGuide() {
  const guide = useRef<HTMLElement>(null);
  const running = bench.value?.settings.tour === "running" && route.value.view !== "tour";
  useEffect(() => {
    document.documentElement.toggleAttribute("data-tour", running);
  }, [running]);
  if (!running) return null;
  const n = at.value;
  const step = STEPS[n]!;
  const last = n === STEPS.length - 1;
  const acted = step.acted?.(job.value?.id ?? "") ?? false;
  return (
    <section class="guide" ref={guide} aria-label="First round">
      <div role="status">
        <b>
          {n + 1} of {STEPS.length}: {step.title}
        </b>
        <p>{step.words}</p>
      </div>
      <div class="row">
        {step.act && !acted && (
          <button type="button" class="next" onClick={() => void step.act!.run()}>
            {step.act.words}
          </button>
        )}
        {n > 0 && (
          <button type="button" onClick={() => turnTo(n - 1)}>
            Back
          </button>
        )}
        {!last && (
          <button type="button" class={step.act && !acted ? "" : "next"} onClick={() => turnTo(n + 1)}>
            Next
          </button>
        )}
        <button
          type="button"
          class={last ? "next" : "quiet"}
          onClick={() => void setSettings({ tour: "done" })}
        >
          {last ? "Done" : "End the round"}
        </button>
      </div>
    </section>
  );
}
