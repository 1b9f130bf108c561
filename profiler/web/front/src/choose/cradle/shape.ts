/** What the job knows of neck and headstock, and changes of it: one after the other. */

import { part, Refusal, request, upload } from "../../api/http";
import type { Job, Shape } from "../../api/types";
import { sayTrouble } from "../../state/notices";
import { inTurn, job, jobPath, loadJob, takeRevision } from "../../state/store";

export type Told = { option: string | null; message: string };

export const OVERTAKEN =
  "Not taken: neck or headstock was changed in another window meanwhile." +
  " Look at it as it is now, and send it again if it is still wanted.";

/** Neck and headstock as this window saw them last, by job. */
const seen = new Map<string, string>();

export function sawShape(id: string, shape: Shape): void {
  seen.set(id, essence(shape));
}

function essence({ sections, headstock }: Shape): string {
  return JSON.stringify([sections, headstock]);
}

/**
 * Sends a change when those before it are through. A job that changed elsewhere takes it all the
 * same as long as its neck and headstock are what this window showed.
 *
 * @returns null where it was taken; else what was wrong, for the form.
 */
function put(id: string, send: (revision: number) => Promise<Shape>): Promise<Told | null> {
  return inTurn(async () => {
    try {
      let shape: Shape;
      try {
        shape = await send(await revisionOf(id));
      } catch (error) {
        if (!stale(error)) throw error;
        const now = await request<Shape>("GET", jobPath(id, "/shape"));
        const same = seen.get(id) === essence(now);
        sawShape(id, now);
        takeRevision(id, now.revision);
        if (!same) throw error;
        shape = await send(now.revision);
      }
      sawShape(id, shape);
      takeRevision(id, shape.revision);
      return null;
    } catch (error) {
      return told(error);
    } finally {
      // what else the job shows follows by itself; the next change need not wait for it
      if (job.value?.id === id) void loadJob(id);
    }
  });
}

export function changeShape(
  of: Job,
  rest: string,
  body: Record<string, unknown>,
): Promise<Told | null> {
  return put(of.id, (revision) =>
    request<Shape>("POST", jobPath(of.id, rest), { ...body, revision }),
  );
}

export function sendGauge(
  of: Job,
  file: File,
  fields: Record<string, string>,
  progress: (share: number) => void,
  stop: AbortSignal,
): Promise<Told | null> {
  return put(of.id, (revision) => {
    if (stop.aborted) return Promise.reject(new Refusal(0, "cancelled", "Sending was stopped."));
    const query = Object.entries({ ...fields, revision: String(revision), said: file.name })
      .filter(([, value]) => value !== "")
      .map(([name, value]) => `${name}=${part(value)}`)
      .join("&");
    return upload<Shape>(jobPath(of.id, `/sections/photo?${query}`), file, progress, stop);
  });
}

/** Of the open job it is known; another one has to be asked for. */
async function revisionOf(id: string): Promise<number> {
  const open = job.value;
  return open?.id === id ? open.revision : (await request<Job>("GET", jobPath(id))).revision;
}

function stale(error: unknown): boolean {
  return error instanceof Refusal && error.code === "stale";
}

function told(error: unknown): Told {
  if (stale(error)) return { option: null, message: OVERTAKEN };
  if (error instanceof Refusal && error.code === "cancelled")
    return { option: null, message: "Stopped, so it was not taken." };
  if (error instanceof Refusal) {
    const option = error.detail["option"];
    return { option: typeof option === "string" ? option : null, message: error.message };
  }
  sayTrouble(error);
  return { option: null, message: "Not taken: something on this page went wrong. Send it again." };
}
