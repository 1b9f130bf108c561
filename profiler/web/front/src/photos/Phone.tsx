/** The page on the phone: take the photo, read at once what to change. And how a phone joins. */

import { useEffect, useId, useRef, useState } from "preact/hooks";
import { Refusal, request } from "../api/http";
import type { Check, Job, Photo } from "../api/types";
import { Link } from "../kit/Head";
import { Choices, Select } from "../kit/field";
import { Icon } from "../kit/icons";
import { Progress } from "../kit/progress";
import { sayTrouble, speak } from "../state/notices";
import { jobPath, jobs, loadBench, touched } from "../state/store";
import { Advice, First } from "./Advice";
import { glance, reducedFile, wake } from "./glance";
import { Live, liveThere } from "./Live";
import { MarkedPhoto } from "./MarkedPhoto";
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

/** A photo that was taken and not sent yet. */
interface Shot {
  file: File;
  url: string;
  /** null while it is looked at */
  check: Check | null;
  held: boolean;
}

export function Phone() {
  const id = useId();
  const [picked, setPicked] = useState<string | null>(null);
  const [job, setJob] = useState<Job | null>(null);
  const [live, setLive] = useState(false);
  const [side, setSide] = useState(false);
  const [shot, setShot] = useState<Shot | null>(null);
  const top = useRef<HTMLElement>(null);
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
  // the bench needs a while to get ready for the first picture
  useEffect(() => void wake(), []);
  useEffect(() => top.current?.scrollIntoView({ block: "start" }), [shot?.url]);

  const put = (next: Shot | null) =>
    setShot((before) => {
      if (before && before.url !== next?.url) URL.revokeObjectURL(before.url);
      return next;
    });

  /** Looked at first, small; what cannot be measured waits for a word before it is sent. */
  const take = async (file: File | undefined) => {
    if (!file) return;
    setLive(false);
    const small = await reducedFile(file);
    if (!small) return send(file); // a kind of picture that only the bench can read
    const taken: Shot = { file, url: URL.createObjectURL(small.blob), check: null, held: false };
    put(taken);
    try {
      const check = await glance(small, to, { photo: true, side });
      put({ ...taken, check, held: !check.ok });
      speak(check.first ?? "Good enough to measure.");
      if (!check.ok) return;
    } catch {
      // the photo itself will be looked at, and that is told
    }
    await send(file);
  };
  const send = async (file: File) => {
    try {
      const which = to === NEW ? (await request<Job>("POST", "/api/jobs", {})).id : to;
      setPicked(which);
      setShot((now) => now && { ...now, held: false });
      await sendPhotos(which, [file], side);
      await fetchJob(which);
      put(null);
    } catch (error) {
      sayTrouble(error);
    }
  };
  const away = async (photo: Photo) => {
    if (!job) return;
    try {
      const path = jobPath(job.id, `/photos/${encodeURIComponent(photo.name)}`);
      setJob(await request<Job>("DELETE", path, { revision: job.revision }));
    } catch (error) {
      sayTrouble(error);
      await fetchJob(job.id);
    }
  };

  const last = job?.photos.at(-1);
  const now = sending.value;
  return (
    <div class="column phone">
      {shot && (
        <section class="sheet marked" ref={top} aria-labelledby="shot-title">
          <h2 id="shot-title">{shot.held ? "Not sent yet" : "This photo"}</h2>
          {now && <Progress words={`Sending ${now.name}`} share={now.share} stop={now.stop} />}
          {shot.check && <First check={shot.check} />}
          {shot.held && (
            <div class="row">
              <label for={id} class="button next">
                <Icon sign="camera" /> Take it again
              </label>
              <button type="button" onClick={() => void send(shot.file)}>
                Send it all the same
              </button>
            </div>
          )}
          <MarkedPhoto src={shot.url} alt="The photo that was just taken" check={shot.check} />
          <Advice check={shot.check} bare />
          {shot.check?.ok && <p class="small faint">How sharp it is will be told from the photo itself.</p>}
        </section>
      )}
      <div class={shot ? "sheet" : "sheet marked"}>
        <h1>{side ? "A photo from the side" : "A photo from above"}</h1>
        <Select
          label="Of which instrument?"
          value={to}
          set={setPicked}
          choices={[
            ...list.map((j) => [j.id, j.name || `Unnamed job (${j.id})`] as const),
            [NEW, "Another, not on the list"],
          ]}
        />
        <Choices
          legend="From where?"
          value={side ? "side" : "above"}
          set={(where) => {
            setSide(where === "side");
            put(null);
          }}
          choices={[
            ["above", "From above"],
            ["side", "From the side"],
          ]}
        />
        {live && <Live key={String(side)} job={to} side={side} take={(file) => void take(file)} close={() => setLive(false)} />}
        <input
          id={id}
          class="unseen"
          type="file"
          accept="image/*"
          capture="environment"
          onChange={(event) => {
            const [file] = event.currentTarget.files ?? [];
            event.currentTarget.value = "";
            void take(file);
          }}
        />
        {!shot?.held && (
          <label for={id} class={live || now ? "button shutter" : "button next shutter"}>
            <Icon sign="camera" /> {last || shot ? "Take another photo" : "Take the photo"}
          </label>
        )}
        {!live && liveThere() && (
          <button type="button" onClick={() => setLive(true)}>
            Live picture with advice
          </button>
        )}
        {!liveThere() && (
          <p class="small faint">
            There is no live picture here: browsers give a page the camera only over an encrypted connection or
            on the computer itself. The photo is looked at as soon as it is taken.
          </p>
        )}
        {side && !shot && !live && (
          <ul class="plain">
            <li>The instrument lies as before, the upright row stands behind it.</li>
            <li>An arm's length away, the phone level and at the height of the strings.</li>
            <li>Both ends, the row behind and the mat in front are in the frame.</li>
          </ul>
        )}
        {!side && !last && !shot && !live && (
          <ul class="plain">
            <li>Hold it level, 1 to 1.3 m above the middle of the instrument.</li>
            <li>Main camera, zoom 1, no flash, no portrait mode.</li>
            <li>The whole instrument and most of the mat are in the frame.</li>
          </ul>
        )}
      </div>
      {!shot && last && (
        <section class="sheet" aria-labelledby="last-title">
          <h2 id="last-title">The last photo</h2>
          {last.check && <First check={last.check} />}
          {last.small && <MarkedPhoto src={last.small} alt={`Photo ${last.said}`} check={last.check} />}
          <Advice check={last.check} bare />
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
          {last.check && !last.check.ok && (
            <div>
              <button type="button" disabled={job?.work != null} onClick={() => void away(last)}>
                Take this photo away
              </button>
            </div>
          )}
        </section>
      )}
    </div>
  );
}
