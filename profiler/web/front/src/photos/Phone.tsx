/** The page on the phone: take the photo, read at once what to change. And how a phone joins. */

import { useEffect, useId, useState } from "preact/hooks";
import { Refusal, request } from "../api/http";
import type { Job } from "../api/types";
import { Icon } from "../kit/icons";
import { Progress } from "../kit/progress";
import { sayTrouble } from "../state/notices";
import { go } from "../state/route";
import { bench, jobPath, loadBench, touched } from "../state/store";
import { Advice } from "./Advice";
import { sending, sendPhotos } from "./send";

export function Join() {
  const [wrong, setWrong] = useState<string | null>(null);
  useEffect(() => {
    const code = new URLSearchParams(location.hash.slice(1)).get("code");
    history.replaceState(null, "", "/join");
    if (!code) return setWrong("Scan the code that the bench shows under “Straight from the phone”.");
    request("POST", "/api/join", { code })
      .then(loadBench)
      .then(() => location.replace("/phone"))
      .catch((error: unknown) =>
        setWrong(error instanceof Refusal ? error.message : "Joining did not work. Scan a new code."),
      );
  }, []);
  return (
    <div class="column">
      <div class="sheet marked">
        <h1>{wrong ? "Not joined" : "Joining the bench …"}</h1>
        {wrong && <p role="alert">{wrong}</p>}
      </div>
    </div>
  );
}

export function Phone() {
  const id = useId();
  const to = bench.value?.phone_job ?? null;
  const [job, setJob] = useState<Job | null>(null);
  const hint = touched.value["photo"] ?? 0;
  const fetchJob = async () => {
    if (!to) return setJob(null);
    try {
      setJob(await request<Job>("GET", jobPath(to.id)));
    } catch (error) {
      sayTrouble(error);
    }
  };
  useEffect(() => void fetchJob(), [to?.id, to?.revision, hint]);
  const take = async (files: File[]) => {
    if (!to || files.length === 0) return;
    await sendPhotos(to.id, files);
    await fetchJob();
  };
  const last = job?.photos.at(-1);
  const now = sending.value;
  return (
    <div class="column phone">
      <div class="sheet marked">
        <h1>{to ? <span dir="auto">{to.name || "Unnamed job"}</span> : "No job is open at the bench"}</h1>
        {!to && <p>Open a job there and show its code again; this page follows by itself.</p>}
        {to &&
          (now ? (
            <Progress words={`Sending ${now.name}`} share={now.share} stop={now.stop} />
          ) : (
            <>
              <input
                id={id}
                class="unseen"
                type="file"
                accept="image/*"
                capture="environment"
                onChange={(event) => {
                  const files = [...(event.currentTarget.files ?? [])];
                  event.currentTarget.value = "";
                  void take(files);
                }}
              />
              <label for={id} class="button next shutter">
                <Icon sign="camera" /> {last ? "Take another photo" : "Take the photo"}
              </label>
              <ul class="plain">
                <li>Hold it level, 1 to 1.3 m above the middle of the instrument.</li>
                <li>Main camera, zoom 1, no flash, no portrait mode.</li>
                <li>The whole instrument and most of the mat are in the frame.</li>
              </ul>
            </>
          ))}
      </div>
      {last && (
        <section class="sheet" aria-labelledby="last-title">
          <h2 id="last-title">The last photo</h2>
          {last.small && <img src={last.small} alt={`Photo ${last.said}`} />}
          <Advice check={last.check} />
          {last.check?.ok && <p>Go on at the bench: it is there already.</p>}
        </section>
      )}
      {bench.value?.client === "bench" && (
        <button type="button" onClick={() => go({ view: "start" })}>
          Back to the bench
        </button>
      )}
    </div>
  );
}
