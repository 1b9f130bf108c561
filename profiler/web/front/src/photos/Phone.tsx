/** The page on the phone: take the photo, read at once what to change. And how a phone joins. */

import { useEffect, useId, useState } from "preact/hooks";
import { Refusal, request } from "../api/http";
import type { Job } from "../api/types";
import { Link } from "../kit/Head";
import { Select } from "../kit/field";
import { Icon } from "../kit/icons";
import { Progress } from "../kit/progress";
import { sayTrouble } from "../state/notices";
import { jobPath, jobs, loadBench, touched } from "../state/store";
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

const NEW = "";

export function Phone() {
  const id = useId();
  const [picked, setPicked] = useState<string | null>(null);
  const [job, setJob] = useState<Job | null>(null);
  const list = jobs.value ?? [];
  // the one that was worked on last is the one that is on the bench
  const to = picked ?? list[0]?.id ?? NEW;
  const hint = touched.value["photo"] ?? 0;
  const fetchJob = async (which: string) => {
    try {
      setJob(which === NEW ? null : await request<Job>("GET", jobPath(which)));
    } catch (error) {
      sayTrouble(error);
    }
  };
  useEffect(() => void fetchJob(to), [to, hint]);
  const take = async (files: File[]) => {
    if (files.length === 0) return;
    try {
      const which = to === NEW ? (await request<Job>("POST", "/api/jobs", {})).id : to;
      setPicked(which);
      await sendPhotos(which, files);
      await fetchJob(which);
    } catch (error) {
      sayTrouble(error);
    }
  };
  const last = job?.photos.at(-1);
  const now = sending.value;
  return (
    <div class="column phone">
      <div class="sheet marked">
        <h1>A photo from above</h1>
        {now ? (
          <Progress words={`Sending ${now.name}`} share={now.share} stop={now.stop} />
        ) : (
          <>
            <Select
              label="Of which instrument?"
              value={to}
              set={setPicked}
              choices={[
                ...list.map((j) => [j.id, j.name || `Unnamed job (${j.id})`] as const),
                [NEW, "Another, not on the list"],
              ]}
            />
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
            {!last && (
              <ul class="plain">
                <li>Hold it level, 1 to 1.3 m above the middle of the instrument.</li>
                <li>Main camera, zoom 1, no flash, no portrait mode.</li>
                <li>The whole instrument and most of the mat are in the frame.</li>
              </ul>
            )}
          </>
        )}
      </div>
      {last && (
        <section class="sheet" aria-labelledby="last-title">
          <h2 id="last-title">The last photo</h2>
          {last.small && <img src={last.small} alt={`Photo ${last.said}`} />}
          <Advice check={last.check} />
          {last.check?.ok && (
            <>
              <p>It is at the bench already. Go on there, or here:</p>
              <div>
                <Link to={{ view: "job", id: to, step: "photos" }} class="button">
                  Open the job
                </Link>
              </div>
            </>
          )}
        </section>
      )}
    </div>
  );
}
