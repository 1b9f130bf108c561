/** Figures and remarks, set. */

import type { ComponentChildren } from "preact";
import type { Finding, Mark, Quantity, Row, Units } from "../api/types";

const FRACTION = /(\d+)\/(\d+)/g;

/** Text with its fractions set as fractions; a screen reader hears them as typed. */
export function Set({ children }: { children: string }) {
  const parts: ComponentChildren[] = [];
  let last = 0;
  for (const match of children.matchAll(FRACTION)) {
    const before = children.slice(last, match.index);
    parts.push(before.endsWith(" ") ? before.slice(0, -1) + "\u2009" : before);
    parts.push(
      <span class="fraction">
        <sup>{match[1]}</sup>⁄<sub>{match[2]}</sub>
      </span>,
    );
    last = match.index + match[0].length;
  }
  parts.push(children.slice(last));
  return <>{parts}</>;
}

/** The line under the least sure number, rem. */
const LONGEST_REM = 9;

/** A number with its ±, and below it a line as long as the ± is beside the others. */
function Figure({ q, units, widest }: { q: Quantity; units: Units; widest: number }) {
  if (q.value === null) return <span class="unknown">not known: {q.reason}</span>;
  const [value = "", u95 = ""] = q[units].split(" ± ");
  const share = q.u95 === null || widest <= 0 ? 0 : Math.min(1, q.u95 / widest);
  return (
    <span class="figure" title={q.mostly ? `mostly from: ${q.mostly}` : undefined}>
      <span class="value">
        <Set>{value}</Set>
      </span>{" "}
      <span class="u95">
        ±&nbsp;<Set>{u95}</Set>
      </span>
      <span class="span" aria-hidden="true" style={{ width: `${(share * LONGEST_REM).toFixed(2)}rem` }} />
    </span>
  );
}

/** Numbers by name, each with its ± drawn against the largest of them. */
export function Figures({ rows, units }: { rows: readonly Row[]; units: Units }) {
  const widest = Math.max(0, ...rows.map((row) => row.u95 ?? 0));
  return (
    <dl>
      {rows.map((row) => (
        <div key={row.key}>
          <dt>{row.label}</dt>
          <dd>
            <Figure q={row} units={units} widest={widest} />
          </dd>
        </div>
      ))}
    </dl>
  );
}

const LEVELS: Record<Finding["level"], string> = {
  doubt: "In doubt: check before you rely on it",
  caution: "Less certain than it could be",
  note: "Good to know",
};

export function Remarks({
  findings,
  marks = [],
  raise,
}: {
  findings: readonly Finding[];
  /** those of them that have a place in the photo */
  marks?: readonly Mark[];
  raise?: (mark: number) => void;
}) {
  if (findings.length === 0) return null;
  return (
    <ul class="remarks">
      {findings.map((f, i) => {
        const mark = marks.findIndex((m) => m.code === f.code && m.message === f.message);
        return (
          <li key={i} class={f.level}>
            <span class="level">{LEVELS[f.level]}</span>
            {f.message} <span class="faint small">[{f.code}]</span>
            {mark >= 0 && raise && (
              <button type="button" class="quiet where" onClick={() => raise(mark)}>
                <span class="ring-number" aria-hidden="true">
                  {mark + 1}
                </span>{" "}
                Show the place
              </button>
            )}
          </li>
        );
      })}
    </ul>
  );
}
