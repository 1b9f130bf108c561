/** A place for one photo: of a contour gauge, or of a tracing. The whole window takes the drop. */

import { useEffect, useId, useState } from "preact/hooks";
import { Icon } from "../../kit/icons";

export function GaugeDrop(props: { file: File | null; take: (file: File) => void }) {
  const id = useId();
  const [over, setOver] = useState(false);
  const { take } = props;
  useEffect(() => {
    const files = (event: DragEvent) => event.dataTransfer?.types.includes("Files") ?? false;
    const hover = (event: DragEvent) => {
      if (!files(event)) return;
      event.preventDefault();
      setOver(true);
    };
    const leave = (event: DragEvent) => {
      if (event.relatedTarget === null) setOver(false);
    };
    const drop = (event: DragEvent) => {
      if (!files(event)) return;
      event.preventDefault();
      setOver(false);
      const file = event.dataTransfer?.files[0];
      if (file) take(file);
    };
    addEventListener("dragover", hover);
    addEventListener("dragleave", leave);
    addEventListener("drop", drop);
    return () => {
      removeEventListener("dragover", hover);
      removeEventListener("dragleave", leave);
      removeEventListener("drop", drop);
    };
  }, [take]);
  return (
    <div class={`drop small-drop${over ? " over-it" : ""}`}>
      <p class="drop-words" dir="auto">
        {over ? "Let go here" : (props.file?.name ?? "Drop the gauge's photo here")}
      </p>
      <div>
        <input
          id={id}
          class="unseen"
          type="file"
          accept="image/jpeg,image/heic,image/heif,image/png,image/tiff,.heic,.heif"
          onChange={(event) => {
            const file = event.currentTarget.files?.[0];
            event.currentTarget.value = "";
            if (file) take(file);
          }}
        />
        <label for={id} class="button">
          <Icon sign="camera" /> {props.file ? "Another photo" : "Choose the gauge's photo"}
        </label>
      </div>
      <p class="small faint">
        The gauge as it came off the neck, flat on the mat, from above, mat in sight all round it.
      </p>
    </div>
  );
}
