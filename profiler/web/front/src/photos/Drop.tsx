/** A place for photos: drop them, or choose them. The whole window takes a drop. */

import { useEffect, useId, useState } from "preact/hooks";
import { Icon } from "../kit/icons";
import { Progress } from "../kit/progress";
import { sending } from "./send";

export function Drop(props: { take: (files: File[]) => void; words: string; small?: boolean }) {
  const id = useId();
  const [over, setOver] = useState(false);
  useEffect(() => {
    let depth = 0;
    const holdsFiles = (event: DragEvent) => event.dataTransfer?.types.includes("Files") ?? false;
    const enter = (event: DragEvent) => {
      if (!holdsFiles(event)) return;
      depth++;
      setOver(true);
    };
    const leave = () => {
      depth = Math.max(0, depth - 1);
      if (depth === 0) setOver(false);
    };
    const hover = (event: DragEvent) => {
      if (holdsFiles(event)) event.preventDefault();
    };
    const drop = (event: DragEvent) => {
      if (!holdsFiles(event)) return;
      event.preventDefault();
      depth = 0;
      setOver(false);
      const files = [...(event.dataTransfer?.files ?? [])];
      if (files.length) props.take(files);
    };
    addEventListener("dragenter", enter);
    addEventListener("dragleave", leave);
    addEventListener("dragover", hover);
    addEventListener("drop", drop);
    return () => {
      removeEventListener("dragenter", enter);
      removeEventListener("dragleave", leave);
      removeEventListener("dragover", hover);
      removeEventListener("drop", drop);
    };
  }, [props.take]);

  const now = sending.value;
  return (
    <div class={`drop${over ? " over-it" : ""}${props.small ? " small-drop" : ""}`}>
      {now ? (
        <Progress
          words={`Taking ${now.name}${now.of > 1 ? ` (${now.number} of ${now.of})` : ""}`}
          share={now.share}
          stop={now.stop}
        />
      ) : (
        <>
          <p class="drop-words">{over ? "Let go here" : props.words}</p>
          <div>
            <input
              id={id}
              class="unseen"
              type="file"
              multiple
              accept="image/jpeg,image/heic,image/heif,image/png,image/tiff,.heic,.heif,.json"
              onChange={(event) => {
                const files = [...(event.currentTarget.files ?? [])];
                event.currentTarget.value = "";
                if (files.length) props.take(files);
              }}
            />
            <label for={id} class={props.small ? "button" : "button next"}>
              <Icon sign="camera" /> Choose photos
            </label>
          </div>
          <p class="small faint">
            JPEG, HEIC, PNG or TIFF, as they come off the phone, and mat.json, cards.json and upright.json
            if they lie beside them. They are copied; yours stay untouched.
          </p>
        </>
      )}
    </div>
  );
}
