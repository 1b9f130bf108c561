/** What is written about an instrument in the archive, changed. */

import { useState } from "preact/hooks";
import { part, Refusal, request } from "../api/http";
import type { Entry } from "../api/types";
import { Dialog } from "../kit/dialog";
import { Field } from "../kit/field";
import { say, sayTrouble } from "../state/notices";

export function EditEntry(props: { entry: Entry; changed: () => void; close: () => void }) {
  const { entry } = props;
  const [text, setText] = useState({
    name: entry.name,
    customer: entry.customer,
    maker: entry.maker,
    kind: entry.kind,
    tags: entry.tags.join(", "),
    notes: entry.notes,
  });
  const [wrong, setWrong] = useState<string | null>(null);
  const set = (name: keyof typeof text) => (value: string) => setText({ ...text, [name]: value });
  const keep = async () => {
    setWrong(null);
    try {
      await request("PATCH", `/api/archive/${part(entry.number)}`, {
        ...text,
        tags: text.tags.split(/[,;]/).map((t) => t.trim()).filter(Boolean),
      });
      say("Changed. What was measured stays as it is.");
      props.changed();
      props.close();
    } catch (error) {
      if (error instanceof Refusal) setWrong(error.message);
      else sayTrouble(error);
    }
  };
  return (
    <Dialog title="What is written about it" close={props.close}>
      <div class="fields">
        <Field label="Instrument" value={text.name} set={set("name")} />
        <Field label="Customer" value={text.customer} set={set("customer")} />
        <Field label="Maker" value={text.maker} set={set("maker")} />
        <Field label="Kind" value={text.kind} set={set("kind")} />
        <Field label="Tags, with commas between" value={text.tags} set={set("tags")} />
      </div>
      <Field label="Notes" value={text.notes} set={set("notes")} max={2000} />
      {wrong && (
        <p class="wrong-box" role="alert">
          {wrong}
        </p>
      )}
      <div class="dialog-foot">
        <button type="button" class="next" onClick={() => void keep()}>
          Keep
        </button>
      </div>
    </Dialog>
  );
}
