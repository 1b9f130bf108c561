/** The sheet beside the form: what is drawn of the wishes, and why not where they cannot be. */

import type { ComponentChildren } from "preact";
import type { Refusal } from "../api/http";

interface Props {
  title: string;
  busy: boolean;
  refusal: Refusal | null;
  /** what is drawn in spite of the refusal */
  instead: string | null;
  children: ComponentChildren;
}

export function Drawn({ title, busy, refusal, instead, children }: Props) {
  return (
    <section class="sheet marked drawn" aria-labelledby="drawing-title" aria-busy={busy}>
      <div class="section-head">
        <h2 id="drawing-title">{title}</h2>
        <span class="small faint" role="status">
          {busy ? "drawing …" : ""}
        </span>
      </div>
      <div class="drawn-in">
        {refusal && (
          <p class="wrong-box" role="alert">
            {refusal.message}
            {instead && <span class="faint"> {instead}</span>}
          </p>
        )}
        {children}
      </div>
    </section>
  );
}

/** What the form begins with, whatever is chosen. */
export function FormHead({ id, title }: { id: string; title: string }) {
  return (
    <>
      <h1 id={id}>{title}</h1>
      <p class="small faint">
        An empty field takes the usual value, shown in it. Lengths as on your rule: 6, 6mm, 1/4in.
      </p>
    </>
  );
}

/** Brings the drawing into sight, from a remark that speaks of a place in it. */
export function toDrawing(): void {
  document.getElementById("drawing-title")?.scrollIntoView({ block: "start" });
}
