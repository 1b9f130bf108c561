/** Photos to the server, one after the other, with their progress. */

import { signal } from "@preact/signals";
import { part, request, upload } from "../api/http";
import type { Job, Photo } from "../api/types";
import { say, sayTrouble, speak } from "../state/notices";
import { go } from "../state/route";
import { job, jobPath, loadJob, take } from "../state/store";

const MOST_BYTES = 120 * 1024 * 1024;

export interface Sending {
  name: string;
  number: number;
  of: number;
  share: number;
  stop: () => void;
}

export const sending = signal<Sending | null>(null);

/**
 * Photos, and the records of mat and cards that lie beside them. True where all have arrived; what
 * cannot be taken is told and left out.
 */
export async function sendPhotos(
  id: string,
  files: readonly File[],
  fromSide = false,
): Promise<boolean> {
  const good = files.filter((file) => {
    if (file.size > MOST_BYTES) say(`${file.name} is larger than 120 MB and was not taken.`, true);
    else if (file.size === 0) say(`${file.name} is empty and was not taken.`, true);
    return file.size > 0 && file.size <= MOST_BYTES;
  });
  const stop = new AbortController();
  let arrived = 0;
  try {
    for (const record of good.filter(isRecord)) {
      const content: unknown = JSON.parse(await record.text());
      await request<Job>("POST", jobPath(id, "/records"), content, stop.signal);
      arrived++;
      speak(`${record.name} has arrived.`);
    }
    const photos = good.filter((file) => !isRecord(file));
    for (const [n, file] of photos.entries()) {
      const told = (share: number) => {
        sending.value = {
          name: file.name,
          number: n + 1,
          of: photos.length,
          share,
          stop: () => stop.abort(),
        };
      };
      told(0);
      const path = jobPath(id, `/photos?name=${part(file.name)}${fromSide ? "&side=1" : ""}`);
      await upload<Photo>(path, file, told, stop.signal);
      arrived++;
      speak(`${file.name} has arrived.`);
    }
  } catch (error) {
    if (error instanceof SyntaxError) say("A record could not be read: it is damaged, or none.", true);
    else sayTrouble(error);
  } finally {
    sending.value = null;
  }
  return arrived > 0 && arrived === good.length;
}

/** mat.json, cards.json and upright.json, as they lie beside photos. */
function isRecord(file: File): boolean {
  return file.name.toLowerCase().endsWith(".json") && file.size < 1e6;
}

/** A drop on the bench: a job of its own, measured at once. */
export async function newJobFrom(files: readonly File[]): Promise<void> {
  performance.mark("drop");
  try {
    const made = await request<Job>("POST", "/api/jobs", {});
    go({ view: "job", id: made.id, step: "photos" });
    take(made);
    const all = await sendPhotos(made.id, files);
    await loadJob(made.id);
    const now = job.value;
    if (all && now?.id === made.id && now.can.measure) await measureNow(now);
  } catch (error) {
    sayTrouble(error);
  }
}

export async function measureNow(of: Job): Promise<void> {
  try {
    const path = jobPath(of.id, "/measure");
    const begun = await request<Job>("POST", path, { revision: of.revision });
    take(begun);
    go({ view: "job", id: of.id, step: "look" });
  } catch (error) {
    sayTrouble(error);
    await loadJob(of.id);
  }
}
