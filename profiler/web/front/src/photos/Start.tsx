/** The bench: a place for new photos, and the jobs that lie there. */

import { useState } from "preact/hooks";
import { request } from "../api/http";
import type { Job, Short } from "../api/types";
import { Link } from "../kit/Head";
import { Thumb } from "../kit/Thumb";
import { Set } from "../kit/words";
import { quantityText } from "../kit/lengths";
import { sayTrouble } from "../state/notices";
import { go } from "../state/route";
import { bench, jobs, units } from "../state/store";
import { Drop } from "./Drop";
import { newJobFrom } from "./send";

export function Start() {
  const state = bench.value;
  const list = jobs.value;
  const fresh = state !== null && list !== null && list.length === 0;
  return (
    <div class="column">
      <div class="start">
        <section class="sheet marked" aria-labelledby="new-title">
          <h1 id="new-title">A photo from above, on the mat</h1>
          <Drop take={(files) => void newJobFrom(files)} words="Drop photos of one instrument here" />
        </section>
        <section class="sheet" aria-labelledby="before-title">
          <h2 id="before-title">{fresh ? "Before the first photo" : "On the bench"}</h2>
          {state && <Ready />}
          {state && state.settings.tour !== "done" && (
            <>
              <p>
                New here? The first round goes from printing the mat to a finished sample job. No phone is
                needed.
              </p>
              <div>
                <Link to={{ view: "tour" }} class={fresh ? "button next" : "button"}>
                  Take the first round
                </Link>
              </div>
            </>
          )}
          <div class="row">
            <EmptyJob />
          </div>
        </section>
      </div>
      <JobList list={list} />
    </div>
  );
}

/** What has been printed, and whether a rule was laid on it. */
function Ready() {
  const { mat, cards } = bench.value!;
  const line = (name: string, there: typeof mat | typeof cards) => {
    if (!there && name === "mat")
      return "No mat is recorded yet. One of usual size is recognised, but how true it was printed is not known.";
    if (!there) return "No cards are recorded yet. Heights may be typed instead.";
    const { x, y } = there.bars;
    const them = `${name === "mat" ? "Mat" : "Cards"}${there.paper ? ` on ${there.paper}` : ""}`;
    if (x.read === null || y.read === null)
      return `${them}: the bars have not been read with a rule yet.`;
    return `${them}: printed, and the bars read.`;
  };
  return (
    <>
      <ul class="plain">
        <li>{line("mat", mat)}</li>
        <li>{line("cards", cards)}</li>
      </ul>
      <div>
        <Link to={{ view: "mat" }} class="button">
          Mat, cards and printers
        </Link>
      </div>
    </>
  );
}

function EmptyJob() {
  const [busy, setBusy] = useState(false);
  const make = async (path: string) => {
    setBusy(true);
    try {
      const made = await request<Job>("POST", path, {});
      go({ view: "job", id: made.id, step: "photos" });
    } catch (error) {
      sayTrouble(error);
    } finally {
      setBusy(false);
    }
  };
  return (
    <>
      <button type="button" disabled={busy} onClick={() => void make("/api/jobs")}>
        Job without photos yet
      </button>
      {bench.value?.sample && (
        <button type="button" disabled={busy} onClick={() => void make("/api/jobs/sample")}>
          Sample job
        </button>
      )}
    </>
  );
}

const STATES: Record<Short["state"], string> = {
  empty: "no photo yet",
  ready: "not measured yet",
  measured: "measured",
  failed: "could not be measured",
};

function JobList({ list }: { list: Short[] | null }) {
  if (list === null) return <p role="status">Looking for jobs …</p>;
  if (list.length === 0) return null;
  return (
    <section aria-labelledby="jobs-title" class="column">
      <h2 id="jobs-title">Jobs</h2>
      <ul class="cards">
        {list.map((one) => (
          <li key={one.id} class="sheet job-card">
            <Link
              to={{ view: "job", id: one.id, step: one.state === "measured" ? "look" : "photos" }}
              class="cover"
            >
              <Thumb shape={one.shape} drawn={one.thumbnail} photo={one.photo_small} />
              <b dir="auto">{one.name || "Unnamed job"}</b>
              {one.customer && <span dir="auto">{one.customer}</span>}
              <span class="faint">
                {one.work
                  ? `${one.work.words} …`
                  : one.length?.value
                    ? <Set>{quantityText(one.length, units.value)}</Set>
                    : STATES[one.state]}
              </span>
              {one.counts.doubt > 0 && (
                <span class="doubted">
                  {one.counts.doubt} {one.counts.doubt === 1 ? "doubt" : "doubts"}
                </span>
              )}
              {one.sample && <span class="faint">sample</span>}
            </Link>
          </li>
        ))}
      </ul>
    </section>
  );
}
