/** A job into the archive. */

import { useState } from "preact/hooks";
import { Refusal, request } from "../api/http";
import type { Job } from "../api/types";
import { Dialog } from "../kit/dialog";
import { Field, Tick } from "../kit/field";
import { say, sayTrouble } from "../state/notices";
import { go } from "../state/route";

interface Kept {
  number: string;
  known: boolean;
  messages: string[];
}

export function KeepIt({ job }: { job: Job }) {
  const [open, setOpen] = useState(false);
  return (
    <>
      <button type="button" onClick={() => setOpen(true)}>
        Keep in the archive …
      </button>
      {open && <Form job={job} close={() => setOpen(false)} />}
    </>
  );
}

function Form({ job, close }: { job: Job; close: () => void }) {
  const [text, setText] = useState({
    customer: job.customer,
    name: job.name,
    maker: "",
    kind: "",
    tags: "",
    notes: "",
    note: "",
    revision: "",
  });
  const [photos, setPhotos] = useState(true);
  const [another, setAnother] = useState(false);
  const [wrong, setWrong] = useState<string | null>(null);
  const set = (name: keyof typeof text) => (value: string) => setText({ ...text, [name]: value });
  const keep = async () => {
    setWrong(null);
    const revision = Number.parseInt(text.revision, 10);
    try {
      const kept = await request<Kept>("POST", "/api/archive", {
        job: job.id,
        customer: text.customer,
        name: text.name,
        maker: text.maker,
        kind: text.kind,
        notes: text.notes,
        note: text.note,
        tags: text.tags.split(/[,;]/).map((t) => t.trim()).filter(Boolean),
        photos,
        another,
        ...(Number.isFinite(revision) ? { revision_of: revision } : {}),
      });
      say(kept.known ? `Kept already, as ${kept.number}.` : `Kept as ${kept.number}.`);
      for (const message of kept.messages) say(message);
      close();
      go({ view: "archive", number: kept.number });
    } catch (error) {
      if (error instanceof Refusal) setWrong(error.message);
      else sayTrouble(error);
    }
  };
  return (
    <Dialog title="Keep in the archive" close={close}>
      <div class="fields">
        <Field label="Customer" value={text.customer} set={set("customer")} />
        <Field label="Instrument" value={text.name} set={set("name")} />
        <Field label="Maker" value={text.maker} set={set("maker")} />
        <Field label="Kind" value={text.kind} set={set("kind")} placeholder="as ukulele" />
        <Field label="Tags, with commas between" value={text.tags} set={set("tags")} />
        <Field
          label="Measured again? Its number"
          value={text.revision}
          set={set("revision")}
          placeholder="as 1"
          why="Then this becomes 1.2, and can be compared with 1.1."
        />
      </div>
      <Field label="Notes on the instrument" value={text.notes} set={set("notes")} max={2000} />
      <Field label="Note on this measurement" value={text.note} set={set("note")} max={2000} />
      <Tick label="With its photos" on={photos} set={setPhotos} />
      <Tick label="It is another instrument, though it has the same name" on={another} set={setAnother} />
      {wrong && (
        <p class="wrong-box" role="alert">
          {wrong}
        </p>
      )}
      <div class="dialog-foot">
        <button type="button" class="next" onClick={() => void keep()}>
          Keep it
        </button>
      </div>
    </Dialog>
  );
}
