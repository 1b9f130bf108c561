/** Which pieces, of what sheet; and lining and air for each place that meets the instrument. */

import type { CradlePlan, Units } from "../../api/types";
import { Field, Select, Tick } from "../../kit/field";
import { shown } from "../../kit/lengths";
import type { Chosen } from "../../state/kept";
import { entry, withEntry, withOption } from "./lists";

interface Props {
  chosen: Chosen;
  set: (now: Chosen, what: string) => void;
  plan: CradlePlan | null;
  units: Units;
  wrong: { option: string; message: string } | null;
}

const PIECES = [
  ["neck", "Neck rest"],
  ["headstock", "Headstock block"],
  ["tail", "Tail rest"],
  ["blocks", "Body blocks"],
] as const;
const CONTACTS = [
  ["body", "Under the body"],
  ["neck", "Neck rest"],
  ["headstock", "Headstock block"],
  ["tail", "Tail rest"],
  ["button", "Strap button's slot"],
  ["blocks", "Body blocks"],
] as const;
const LININGS = ["felt", "flock", "foam", "leather", "none"] as const;

export function Pieces({ chosen, set, units, wrong }: Props) {
  const typed = typeof chosen["pieces"] === "string" ? chosen["pieces"] : "";
  const wanted = typed.trim() ? typed.split(",").map((word) => word.trim()) : PIECES.map(([key]) => key);
  const usual = units === "mm" ? "12 mm" : "1/2 in";
  return (
    <fieldset>
      <legend>Pieces and their sheets</legend>
      <div class="contacts">
        {PIECES.map(([key, label]) => (
          <div key={key} class="contact" role="group" aria-label={label}>
            <Tick
              label={label}
              on={wanted.includes(key)}
              set={(on) => {
                const now = PIECES.map(([k]) => k as string).filter((k) =>
                  k === key ? on : wanted.includes(k),
                );
                const all = now.length === PIECES.length || now.length === 0;
                set(withOption(chosen, "pieces", all ? undefined : now.join(",")), `piece ${key}`);
              }}
            />
            <Field
              label="Sheet"
              value={entry(chosen, "stock", key) ?? ""}
              set={(text) =>
                set(withEntry(chosen, "stock", key, text.trim() ? text : null), `stock ${key}`)
              }
              placeholder={usual}
              length
              wrong={wrong?.option === "stock" && names(wrong.message, key) ? wrong.message : null}
            />
          </div>
        ))}
      </div>
    </fieldset>
  );
}

export function Contacts({ chosen, set, plan, units, wrong }: Props) {
  return (
    <fieldset>
      <legend>Lining and air where it meets the instrument</legend>
      <div class="contacts">
        {CONTACTS.map(([key, label]) => {
          const [kind = "", thick = "", gives = ""] = (entry(chosen, "lining", key) ?? "").split(":");
          const now = plan?.contacts[key];
          const put = (k: string, t: string, g: string) => {
            // a thickness alone belongs to the lining that is there anyway
            const word = k || (t || g ? (now?.lining ?? "felt") : "");
            const text = g ? `${word}:${t || usualThick(now?.thickness)}:${g}` : t ? `${word}:${t}` : word;
            set(withEntry(chosen, "lining", key, text || null), `lining ${key}`);
          };
          const bad = (option: string) =>
            wrong?.option === option && names(wrong.message, key) ? wrong.message : null;
          return (
            <div key={key} class="contact" role="group" aria-label={label}>
              <Select
                label={label}
                value={kind}
                set={(k) => put(k, "", "")}
                choices={[
                  ["", now && !kind ? `${now.lining}, usual` : "as usual"],
                  ...LININGS.map((l) => [l as string, l as string] as const),
                ]}
              />
              <Field
                label="Thickness"
                value={thick}
                set={(t) => put(kind, t.replace(/[:=,]/g, ""), gives)}
                placeholder={now ? shown(now.thickness, units) : ""}
                length
                wrong={bad("lining")}
              />
              {key !== "body" ? (
                <Field
                  label="Air beside it"
                  value={entry(chosen, "clearance", key) ?? ""}
                  set={(t) =>
                    set(withEntry(chosen, "clearance", key, t.trim() ? t : null), `air ${key}`)
                  }
                  placeholder={now ? shown(now.clearance, units) : ""}
                  length
                  wrong={bad("clearance")}
                />
              ) : (
                <Field
                  label="Gives under the weight, %"
                  value={gives.replace("%", "")}
                  set={(g) => put(kind, thick, g.replace(/[^\d.]/g, "") && `${g.replace(/[^\d.]/g, "")}%`)}
                  placeholder={now ? String(Math.round(100 * now.gives)) : ""}
                  wrong={null}
                />
              )}
            </div>
          );
        })}
      </div>
    </fieldset>
  );
}

/** With its unit, so that it is read the same whatever the page's. */
function usualThick(mm: number | undefined): string {
  return `${mm ?? 10}mm`;
}

/** Whether a sentence speaks of this place; one that names none speaks of all. */
function names(message: string, key: string): boolean {
  const named = ["body", "neck", "headstock", "tail", "button", "blocks"].filter((k) => message.includes(` ${k}`));
  return named.length === 0 || named.includes(key);
}
