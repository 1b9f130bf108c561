/** The first round: from printing the mat to a finished sample job, without a phone. */

import { request } from "../api/http";
import type { Job } from "../api/types";
import { sayTrouble } from "../state/notices";
import { go, type Route, type Step } from "../state/route";
import { wish, wishesOf } from "../state/kept";
import { job, take } from "../state/store";
import { measureNow } from "../photos/send";

export interface TourStep {
  title: string;
  words: string;
  /** where it happens */
  to: (sample: string | null) => Route;
  /** a button that does the step, where there is something to do */
  act?: { words: string; run: () => Promise<void> };
  /** whether it has been done in that job */
  acted?: (id: string) => boolean;
}

const inJob =
  (step: Step) =>
  (sample: string | null): Route =>
    sample ? { view: "job", id: sample, step } : { view: "tour" };
const bench = (): Route => ({ view: "mat" });

export const SAMPLE = "tour sample";

export function sampleId(): string | null {
  try {
    return localStorage.getItem(SAMPLE);
  } catch {
    return job.peek()?.sample ? job.peek()!.id : null;
  }
}

async function openSample(): Promise<void> {
  try {
    const made = await request<Job>("POST", "/api/jobs/sample", {});
    try {
      localStorage.setItem(SAMPLE, made.id);
    } catch {
      // nothing is kept in a private window; the open job is what counts
    }
    take(made);
    go({ view: "job", id: made.id, step: "photos" });
  } catch (error) {
    sayTrouble(error);
  }
}

async function measureSample(): Promise<void> {
  const now = job.peek();
  if (now?.can.measure) await measureNow(now);
}

async function showCradle(): Promise<void> {
  const now = job.peek();
  if (now) wish(now.id, { which: "cradle" });
}

export const STEPS: readonly TourStep[] = [
  {
    title: "The mat",
    words:
      "The instrument lies on printed paper. Choose your paper under “The mat” and press “Show the pages”; one large sheet from a copy shop is the most convenient, taped office paper measures as well. For this round nothing has to be printed.",
    to: bench,
  },
  {
    title: "A rule on the bars",
    words:
      "No printer prints quite true. Once the mat is made, two bars on it are read with a steel rule and typed in here; without that every length may be out by a percent.",
    to: bench,
  },
  {
    title: "The cards",
    words:
      "What lies higher looks larger. Small cards on soundboard, fretboard and headstock tell how high these are. The sample has four of them.",
    to: bench,
  },
  {
    title: "A photo",
    words:
      "Here a photo would come off the phone or be dropped. The sample brings its own, with the records of its mat and cards.",
    to: inJob("photos"),
    act: { words: "Open the sample job", run: openSample },
    acted: () => job.value?.sample === true,
  },
  {
    title: "Measure",
    words:
      "Under the photo it says what is seen in it and what could be better. Measuring takes a few seconds.",
    to: inJob("photos"),
    act: { words: "Measure the sample", run: measureSample },
    acted: () => job.value?.state === "measured",
  },
  {
    title: "Look",
    words:
      "Follow the blue line round with your eye; it has to lie on the edge everywhere. Red is in doubt. Zoom with wheel, two fingers or the plus key, push with the hand or the arrow keys.",
    to: inJob("look"),
  },
  {
    title: "Correct",
    words:
      "Take “Move”, pull the line a little, and see the ± of the numbers grow: a hand is less sure than the edge itself. “Undo” takes it back.",
    to: inJob("look"),
  },
  {
    title: "A height of your own",
    words:
      "The tuners' height is assumed, and nobody can see from above how high the bridge stands. Type 22 at “Tuners” and 80 at “Top”, below the numbers (on a small screen behind “Numbers, heights, corrections”): a case needs the last.",
    to: inJob("look"),
  },
  {
    title: "Choose",
    words:
      "Change the clearance and watch the case follow. What cannot be is refused with the nearest that can.",
    to: inJob("choose"),
  },
  {
    title: "A cradle",
    words:
      "Take “Cradle” above. The drawing says why neck rest and headstock block cannot be made yet: nobody sees a neck's underside from above. Under “Neck's sections” type 400 at “Station” and 21 at “Depth there”, press “Add the section”, and drag the neck rest along by its mark.",
    to: inJob("choose"),
    act: { words: "Show the cradle", run: showCradle },
    acted: (id) => wishesOf(id).which === "cradle",
  },
  {
    title: "Print",
    words:
      "These are the real pages. Take the PDF, print it at 100 %, and lay a steel rule on its bars before you cut. “Check a printer” makes up for what yours does.",
    to: inJob("print"),
  },
  {
    title: "Keep",
    words:
      "“Keep in the archive” puts the measurement away, with photos and uncertainties, to be found again by words and by shape. That is the whole round.",
    to: inJob("print"),
  },
];
