/** What the page knows of the bench and of the job that is open. The server keeps; this mirrors. */

import { computed, signal } from "@preact/signals";
import { part, Refusal, request } from "../api/http";
import type { Job, Measurement, PhotoView, Settings, Short, State, Units } from "../api/types";
import { say, sayTrouble } from "./notices";
import { go, route } from "./route";

export const bench = signal<State | null>(null);
export const jobs = signal<Short[] | null>(null);
export const job = signal<Job | null>(null);
export const measurement = signal<Measurement | null>(null);
export const view = signal<PhotoView | null>(null);
/** True while the server is out of reach. */
export const away = signal(false);
/** Raised by events; views that show such a list fetch it again. */
export const touched = signal<Record<string, number>>({});

export const units = computed<Units>(() => bench.value?.settings.units ?? "mm");

export const jobPath = (id: string, rest = ""): string => `/api/jobs/${part(id)}${rest}`;

export async function loadBench(): Promise<void> {
  bench.value = await request<State>("GET", "/api/state");
}

export async function loadJobs(): Promise<void> {
  jobs.value = (await request<{ jobs: Short[] }>("GET", "/api/jobs")).jobs;
}

export async function setSettings(change: Partial<Settings>): Promise<void> {
  const before = bench.value;
  if (!before) return;
  bench.value = { ...before, settings: { ...before.settings, ...change } };
  try {
    const settings = await request<Settings>("PUT", "/api/settings", change);
    if (bench.value) bench.value = { ...bench.value, settings };
  } catch (error) {
    bench.value = before;
    sayTrouble(error);
  }
}

/** The open job's id; the route is what decides. */
export function openId(): string | null {
  return route.value.view === "job" ? route.value.id : null;
}

/** Fetches the job, and its results where they are newer than what is here. */
export async function loadJob(id: string): Promise<void> {
  try {
    const fresh = await request<Job>("GET", jobPath(id));
    if (openId() !== id) return;
    take(fresh);
    // while a correction is worked in, the old results would push what the hand drew off the board
    if (fresh.work?.kind !== "correct") await loadResults(fresh);
  } catch (error) {
    if (error instanceof Refusal && error.code === "missing" && openId() === id) {
      say("That job is not here any more.", true);
      go({ view: "start" }, true);
    } else sayTrouble(error);
  }
}

/** Takes an answer about the open job, unless something newer is here already. */
export function take(fresh: Job): void {
  const old = job.value;
  if (old && old.id === fresh.id && fresh.revision < old.revision) return;
  if (old?.id !== fresh.id) {
    measurement.value = null;
    view.value = null;
  }
  job.value = fresh;
}

let fetching: Promise<void> | null = null;
let again = false;

/** One fetch of the results at a time; asked meanwhile, it goes once more at the end. */
async function loadResults(of: Job): Promise<void> {
  if (fetching) {
    again = true;
    return fetching;
  }
  fetching = (async () => {
    const [numbers, picture] = await Promise.all([
      soft(request<Measurement>("GET", jobPath(of.id, "/measurement"))),
      soft(request<PhotoView>("GET", jobPath(of.id, "/view"))),
    ]);
    if (job.value?.id === of.id) {
      measurement.value = numbers;
      view.value = picture;
    }
  })();
  try {
    await fetching;
  } finally {
    fetching = null;
  }
  if (again) {
    again = false;
    const now = job.value;
    if (now) await loadResults(now);
  }
}

/** Nothing there yet is no trouble. */
async function soft<T>(asked: Promise<T>): Promise<T | null> {
  try {
    return await asked;
  } catch (error) {
    if (error instanceof Refusal && error.code === "missing") return null;
    throw error;
  }
}

let line: Promise<unknown> = Promise.resolve();

/**
 * A change of the open job. Changes go one after the other, each with the revision that the one
 * before has left, and a change that another window overtook is told and undone on this page.
 */
export function change(method: string, rest: string, body: Record<string, unknown>): Promise<boolean> {
  const id = job.value?.id;
  if (id === undefined) return Promise.resolve(false);
  return inTurn(() => changeNow(id, method, rest, body));
}

/** Work on a job that has to wait for the changes before it. */
export function inTurn<T>(work: () => Promise<T>): Promise<T> {
  const done = line.then(work);
  line = done.catch(() => undefined);
  return done;
}

/** The revision that an answer has left: the next change starts from it. */
export function takeRevision(id: string, revision: number): void {
  const now = job.value;
  if (now?.id === id && revision > now.revision) job.value = { ...now, revision };
}

async function changeNow(
  id: string,
  method: string,
  rest: string,
  body: Record<string, unknown>,
): Promise<boolean> {
  const now = job.value;
  if (now?.id !== id) return false;
  try {
    const fresh = await request<Job | undefined>(method, jobPath(id, rest), {
      ...body,
      revision: now.revision,
    });
    if (fresh && job.value?.id === id) take(fresh);
    return true;
  } catch (error) {
    if (error instanceof Refusal && error.code === "stale") {
      say(
        "This job was changed in another window. What is there now has been fetched;" +
          " your last step was not taken. Do it again if it is still wanted.",
        true,
      );
      await loadJob(id);
    } else {
      sayTrouble(error);
      if (job.value?.id === id) await loadJob(id);
    }
    return false;
  }
}

export function touch(what: string): void {
  touched.value = { ...touched.value, [what]: (touched.value[what] ?? 0) + 1 };
}
