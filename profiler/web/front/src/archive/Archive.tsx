/** The archive: looked through by words and by shape; each instrument has a page. */

import { useState } from "preact/hooks";
import { part, request } from "../api/http";
import type { Entry, Found } from "../api/types";
import { Link } from "../kit/Head";
import { Field } from "../kit/field";
import { quantityText, shown } from "../kit/lengths";
import { useMaking } from "../kit/making";
import { Thumb } from "../kit/Thumb";
import { Set as SetText } from "../kit/words";
import { touched, units } from "../state/store";
import { ByShape } from "./ByShape";
import { OneEntry } from "./OneEntry";

export function Archive({ number }: { number: string | null }) {
  if (number !== null) return <OneEntry key={number} number={number} />;
  return <List />;
}

interface Answer {
  count: number;
  entries: Entry[];
}

const FILTERS = [
  ["customer", "Customer"],
  ["maker", "Maker"],
  ["kind", "Kind"],
  ["tag", "Tag"],
  ["since", "Measured since"],
  ["until", "Measured until"],
] as const;

function List() {
  const [words, setWords] = useState("");
  const [filters, setFilters] = useState<Record<string, string>>({});
  const [limit, setLimit] = useState(50);
  const [byShape, setByShape] = useState<{ said: string; found: Found[] } | null>(null);
  const asked = { words: words.trim(), ...filters, limit: String(limit) };
  const query = Object.entries(asked)
    .filter(([, value]) => value !== "")
    .map(([name, value]) => `${name}=${part(value)}`)
    .join("&");
  const hint = touched.value["archive"] ?? 0;
  const { made, refusal } = useMaking<Answer>([query, hint], (signal) =>
    request("GET", `/api/archive?${query}`, undefined, signal),
  );
  const nothing = made !== null && made.count === 0;
  const searching = words.trim() !== "" || Object.values(filters).some(Boolean);
  return (
    <div class="column">
      <section class="sheet" aria-labelledby="archive-title">
        <h1 id="archive-title">Archive</h1>
        <Field
          label="Words: name, customer, maker, notes, tags"
          value={words}
          set={(w) => {
            setWords(w);
            setByShape(null);
          }}
          type="search"
        />
        <details>
          <summary>Closer</summary>
          <div class="fields">
            {FILTERS.map(([name, label]) => (
              <Field
                key={name}
                label={label}
                value={filters[name] ?? ""}
                set={(value) => setFilters({ ...filters, [name]: value })}
                placeholder={name === "since" || name === "until" ? "2026-11-25" : ""}
              />
            ))}
          </div>
        </details>
        <ByShape found={setByShape} />
        {refusal && (
          <p class="wrong-box" role="alert">
            {refusal.message}
          </p>
        )}
      </section>
      {byShape ? (
        <section aria-labelledby="found-title" class="column">
          <div class="section-head">
            <h2 id="found-title">
              <span role="status">{byShape.said}</span>
            </h2>
            <button type="button" onClick={() => setByShape(null)}>
              Back to all
            </button>
          </div>
          <Cards entries={byShape.found} />
        </section>
      ) : (
        made && (
          <section aria-labelledby="all-title" class="column">
            <h2 id="all-title">
              <span role="status">
                {nothing
                  ? searching
                    ? "Nothing with these words is kept."
                    : "Nothing is kept yet."
                  : `${made.count} ${made.count === 1 ? "instrument" : "instruments"}`}
              </span>
            </h2>
            {nothing && !searching && (
              <p>A measured job is kept from its Print step, with “Keep in the archive”.</p>
            )}
            <Cards entries={made.entries} />
            {made.entries.length < made.count && (
              <div>
                <button type="button" onClick={() => setLimit(limit + 100)}>
                  Show more
                </button>
              </div>
            )}
          </section>
        )
      )}
    </div>
  );
}

export function Cards({ entries }: { entries: readonly Found[] }) {
  return (
    <ul class="cards">
      {entries.map((entry) => (
        <li key={entry.number} class="sheet job-card">
          <Link to={{ view: "archive", number: entry.number }} class="cover">
            <Thumb shape={entry.shape} drawn={entry.thumbnail} />
            <b dir="auto">{entry.name || "Unnamed"}</b>
            {entry.customer && <span dir="auto">{entry.customer}</span>}
            <span class="faint">
              {entry.number} · {entry.measured}
            </span>
            <span class="faint">
              <SetText>{lengthOf(entry)}</SetText>
            </span>
            {entry.room !== undefined && <span>room {shown(entry.room, units.value)}</span>}
            {entry.largest !== undefined && (
              <span>largest gap {shown(entry.largest, units.value)}</span>
            )}
            {entry.mirrored && <span>turned over</span>}
          </Link>
        </li>
      ))}
    </ul>
  );
}

export function lengthOf(entry: Entry): string {
  if (entry.length === null) return "";
  if (typeof entry.length === "number") return shown(entry.length, units.value);
  return quantityText(entry.length, units.value);
}
