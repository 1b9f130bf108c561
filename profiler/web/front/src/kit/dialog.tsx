/** A sheet laid over the work; Escape and the cross take it away. */

import { useEffect, useId, useRef } from "preact/hooks";
import type { ComponentChildren } from "preact";
import { Icon } from "./icons";

export function Dialog(props: { title: string; close: () => void; children: ComponentChildren }) {
  const dialog = useRef<HTMLDialogElement>(null);
  const id = useId();
  useEffect(() => {
    const shown = dialog.current;
    const before = document.activeElement;
    shown?.showModal();
    // what is asked for is where the hand begins; a phone would lay its keys over half the sheet
    if (!matchMedia("(pointer: coarse)").matches)
      shown?.querySelector<HTMLElement>("input:not([type=checkbox]):not([type=radio]), select, textarea")?.focus();
    return () => {
      shown?.close();
      if (before instanceof HTMLElement) before.focus();
    };
  }, []);
  return (
    <dialog ref={dialog} aria-labelledby={id} onCancel={(e) => (e.preventDefault(), props.close())}>
      <div>
        <div class="dialog-head">
          <h2 id={id}>{props.title}</h2>
          <button type="button" class="quiet" aria-label="Close" onClick={props.close}>
            <Icon sign="close" />
          </button>
        </div>
        {props.children}
      </div>
    </dialog>
  );
}
