/** Long work: what is being done, how far it is, and a way to stop it. */

import { useId } from "preact/hooks";

export function Progress(props: { words: string; share: number | null; stop?: () => void }) {
  const id = useId();
  const percent = props.share === null ? null : Math.round(100 * props.share);
  return (
    <div class="progress">
      <div id={id} role="status">
        {sentence(props.words)} …
      </div>
      <progress aria-labelledby={id} max={100} {...(percent === null ? {} : { value: percent })} />
      {props.stop && (
        <div>
          <button type="button" onClick={props.stop}>
            Stop
          </button>
        </div>
      )}
    </div>
  );
}

export function sentence(words: string): string {
  return words.charAt(0).toUpperCase() + words.slice(1);
}
