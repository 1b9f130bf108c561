/** The photos of one job: what is seen in each, what to change, whose instrument it is. */

import { useState } from "preact/hooks";
import type { Job, Photo } from "../api/types";
import { Field, Tick } from "../kit/field";
import { Link } from "../kit/Head";
import { Progress } from "../kit/progress";
import { say, sayTrouble } from "../state/notices";
import { go } from "../state/route";
import { change, jobPath, loadJob, take } from "../state/store";
import { request } from "../api/http";
import { Advice } from "./Advice";
import { Drop } from "./Drop";
import { Invite } from "./Invite";
import { MarkedPhoto } from "./MarkedPhoto";
import { measureNow, sendPhotos } from "./send";

export function Photos({ job }: { job: Job }) {
  const add = async (files: File[]) => {
    await sendPhotos(job.id, files);
    await loadJob(job.id);
  };
  const first = job.photos.find((photo) => !photo.side)?.name;
  const again = job.state === "measured" && !job.outdated;
  return (
    <div class="column">
      <div class="two">
        <section class="sheet marked" aria-labelledby="photos-title">
          <div class="onward">
            <h1 id="photos-title">{job.photos.length ? "Photos" : "Photos of this instrument"}</h1>
            <div class="row">
              {again && (
                <button type="button" onClick={() => void measureNow(job)} disabled={!job.can.measure}>
                  Measure again
                </button>
              )}
              <button
                type="button"
                class="next"
                disabled={!again && !job.can.measure}
                onClick={() =>
                  again ? go({ view: "job", id: job.id, step: "look" }) : void measureNow(job)
                }
              >
                {again ? "Look and correct" : "Measure"}
              </button>
            </div>
          </div>
          {job.photos.length > 0 && (
            <ol class="photos">
              {job.photos.map((photo) => (
                <li key={photo.name}>
                  <OnePhoto job={job} photo={photo} first={photo.name === first} />
                </li>
              ))}
            </ol>
          )}
          {job.work?.kind === "measure" ? (
            <Progress
              words={job.work.words}
              share={job.work.share}
              stop={() =>
                void request<Job>("POST", jobPath(job.id, "/cancel"), {}).then(take).catch(sayTrouble)
              }
            />
          ) : (
            <Drop
              take={(files) => void add(files)}
              words={job.photos.length ? "Drop more of the same instrument" : "Drop photos here"}
              small={job.photos.length > 0}
            />
          )}
          {job.problem && (
            <p class="wrong-box" role="alert">
              {job.problem.message}
            </p>
          )}
        </section>
        <div class="column">
          <About job={job} />
          <FromTheSide job={job} />
          <Invite />
        </div>
      </div>
    </div>
  );
}

/** How to take the photo that tells the thickness; told where there is none yet. */
function FromTheSide({ job }: { job: Job }) {
  if (job.photos.length === 0 || job.photos.some((photo) => photo.side)) return null;
  return (
    <details class="sheet">
      <summary>How thick is it? A photo from the side tells</summary>
      <p>
        Leave the instrument as it lies. Stand the printed row of sheets up behind it, a hand's breadth away.
        Take the photo from the other side, an arm's length away, the phone level and at the height of the
        strings: both ends, the row behind and the mat in front are in the frame. Drop it here with the others.
      </p>
      <div>
        <Link to={{ view: "mat" }} class="button">
          Print the upright row
        </Link>
      </div>
    </details>
  );
}

function OnePhoto({ job, photo, first }: { job: Job; photo: Photo; first: boolean }) {
  // the sheets that stand in it have said so: there is nothing to be told by hand
  const known = photo.side && photo.check?.ok && photo.check.from_side;
  return (
    <figure class="photo">
      {photo.small ? (
        <MarkedPhoto src={photo.small} alt={`Photo ${photo.said}`} check={photo.check} />
      ) : (
        <span class="no-picture" role="img" aria-label="The picture is being made" />
      )}
      <figcaption>
        <b dir="auto">{photo.said}</b>
        <span class="small faint">
          {[photo.width && `${photo.width} × ${photo.height} px`, photo.phone].filter(Boolean).join(", ")}
        </span>
        {photo.side && <span class="small">From the side: it gives the heights along the instrument.</span>}
        {first && job.photos.length > 1 && (
          <span class="small">The outline is taken from this one.</span>
        )}
        <Advice check={photo.check} />
        <div class="row">
          {!known && (
            <button
              type="button"
              class="quiet"
              disabled={job.work !== null}
              onClick={() => void change("PATCH", "", { side: photo.side ? "" : photo.name })}
            >
              {photo.side ? "It is from above" : "It is from the side"}
              <span class="unseen"> {photo.said}</span>
            </button>
          )}
          <button
            type="button"
            class="quiet"
            disabled={job.work !== null}
            onClick={() => void change("DELETE", `/photos/${encodeURIComponent(photo.name)}`, {})}
          >
            Take away<span class="unseen"> {photo.said}</span>
          </button>
        </div>
      </figcaption>
    </figure>
  );
}

function About({ job }: { job: Job }) {
  const [name, setName] = useState<string | null>(null);
  const [customer, setCustomer] = useState<string | null>(null);
  const keep = async () => {
    const wish = { name: (name ?? job.name).trim(), customer: (customer ?? job.customer).trim() };
    if (wish.name === job.name && wish.customer === job.customer) return;
    if (await change("PATCH", "", wish)) {
      setName(null);
      setCustomer(null);
    }
  };
  return (
    <section class="sheet" aria-labelledby="about-title">
      <h2 id="about-title">The job</h2>
      <Field
        label="Instrument"
        value={name ?? job.name}
        set={setName}
        onLeave={() => void keep()}
        onEnter={() => void keep()}
      />
      <Field
        label="Customer"
        value={customer ?? job.customer}
        set={setCustomer}
        onLeave={() => void keep()}
        onEnter={() => void keep()}
      />
      <Tick
        label="Take cropped or zoomed photos too, with a larger ±"
        on={job.accept_crop}
        set={(on) => void change("PATCH", "", { accept_crop: on })}
      />
      {job.used.length > 0 && (
        <ul class="plain small faint">
          {job.used.map((line) => (
            <li key={line}>{line}</li>
          ))}
        </ul>
      )}
      <RemoveJob job={job} />
    </section>
  );
}

function RemoveJob({ job }: { job: Job }) {
  const [sure, setSure] = useState(false);
  const remove = async () => {
    if (await change("DELETE", "", {})) {
      say("Put into the folder “.removed” beside the jobs.");
      go({ view: "start" });
    }
  };
  if (!sure)
    return (
      <div>
        <button type="button" class="quiet" disabled={job.work !== null} onClick={() => setSure(true)}>
          Remove this job …
        </button>
      </div>
    );
  return (
    <div class="row" role="group" aria-label="Remove this job">
      <span>Its folder goes into “.removed”, nothing is erased.</span>
      <button type="button" onClick={() => void remove()}>
        Remove
      </button>
      <button type="button" class="quiet" onClick={() => setSure(false)}>
        Keep it
      </button>
    </div>
  );
}
