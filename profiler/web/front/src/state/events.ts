/** Hints of the server that something changed; each is answered by fetching what is shown. */

import { batch } from "@preact/signals";
import { away, job, loadBench, loadJob, loadJobs, openId, touch } from "./store";
import { sayTrouble } from "./notices";
import type { Work } from "../api/types";

const PATIENCE_MS = 3000;

export function listen(): void {
  const source = new EventSource("/api/events");
  const on = (name: string, then: (data: Record<string, unknown>) => void) =>
    source.addEventListener(name, (event) => {
      try {
        then(JSON.parse((event as MessageEvent<string>).data) as Record<string, unknown>);
      } catch (error) {
        sayTrouble(error);
      }
    });
  // a hint may be lost, or come before what it hints at can be seen
  setInterval(() => {
    const now = job.value;
    if (now?.work && now.id === openId()) void loadJob(now.id);
  }, PATIENCE_MS);
  let known = false;
  on("hello", () => {
    const back = away.value;
    away.value = false;
    if (known || back) refreshAll();
    known = true;
  });
  source.onerror = () => {
    away.value = true;
  };
  on("jobs", () => void loadJobs().catch(sayTrouble));
  on("job", (data) => {
    void loadJobs().catch(sayTrouble);
    const id = data["id"];
    if (typeof id === "string" && id === openId()) void loadJob(id);
    touch("photo");
  });
  on("photo", (data) => {
    const id = data["id"];
    if (typeof id === "string" && id === openId()) void loadJob(id);
    touch("photo");
  });
  on("work", (data) => {
    const now = job.value;
    if (now && data["id"] === now.id) {
      const { kind, words, share } = data as unknown as Work;
      job.value = { ...now, work: { kind, words, share } };
    }
  });
  for (const name of ["mat", "cards", "upright", "settings", "phones", "state"])
    on(name, () => {
      void loadBench().catch(sayTrouble);
      touch(name);
    });
  for (const name of ["printers", "archive"]) on(name, () => touch(name));
}

function refreshAll(): void {
  batch(() => {
    void loadBench().catch(sayTrouble);
    void loadJobs().catch(sayTrouble);
    const id = openId();
    if (id) void loadJob(id);
    for (const name of ["printers", "archive", "photo"]) touch(name);
  });
}
