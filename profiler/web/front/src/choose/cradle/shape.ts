/** What the job knows of neck and headstock, and changes of it. */

import { request, Refusal, part, upload } from "../../api/http";
import type { Job, Shape } from "../../api/types";
import { say, sayTrouble } from "../../state/notices";
import { jobPath, loadJob } from "../../state/store";

export type Told = { option: string | null; message: string };

/** null where it was taken; else what was wrong, for the form. */
export async function changeShape(
  job: Job,
  rest: string,
  body: Record<string, unknown>,
): Promise<Told | null> {
  try {
    await request<Shape>("POST", jobPath(job.id, rest), { ...body, revision: job.revision });
    return null;
  } catch (error) {
    return told(error);
  } finally {
    await loadJob(job.id);
  }
}

export async function sendGauge(
  job: Job,
  file: File,
  fields: Record<string, string>,
  progress: (share: number) => void,
  stop: AbortSignal,
): Promise<Told | null> {
  const query = Object.entries({ ...fields, revision: String(job.revision), said: file.name })
    .filter(([, value]) => value !== "")
    .map(([name, value]) => `${name}=${part(value)}`)
    .join("&");
  try {
    await upload<Shape>(jobPath(job.id, `/sections/photo?${query}`), file, progress, stop);
    return null;
  } catch (error) {
    return told(error);
  } finally {
    await loadJob(job.id);
  }
}

function told(error: unknown): Told | null {
  if (error instanceof Refusal && error.code === "stale") {
    say(
      "This job was changed in another window. What is there now has been fetched;" +
        " your last step was not taken. Do it again if it is still wanted.",
      true,
    );
    return { option: null, message: "Not taken: the job was changed in another window." };
  }
  if (error instanceof Refusal && error.code !== "cancelled" && error.code !== "away") {
    const option = error.detail["option"];
    return { option: typeof option === "string" ? option : null, message: error.message };
  }
  sayTrouble(error);
  return { option: null, message: "" };
}
