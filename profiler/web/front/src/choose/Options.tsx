/** The choices of a case, as the server describes them, in their groups. */

import type { Option, OptionGroup, Units } from "../api/types";
import { Field, Select, Tick } from "../kit/field";

interface Props {
  groups: readonly OptionGroup[];
  values: Record<string, unknown>;
  set: (name: string, value: unknown) => void;
  units: Units;
  wrong: { option: string; message: string } | null;
  /** no group is open at first */
  shut?: boolean;
}

export function Options({ groups, values, set, units, wrong, shut }: Props) {
  return (
    <>
      {groups.map((group, n) => {
        const chosen = group.options.filter((o) => values[o.name] !== undefined).length;
        const bad = wrong !== null && group.options.some((o) => o.name === wrong.option);
        return (
          <details key={group.label} open={(n === 0 && !shut) || bad}>
            <summary>
              {group.label}
              {chosen > 0 && <span class="faint small chosen">{chosen} of your own</span>}
            </summary>
            <div class="fields">
              {group.options.map((option) => (
                <One
                  key={option.name}
                  option={option}
                  value={values[option.name]}
                  set={(value) => set(option.name, value)}
                  units={units}
                  wrong={wrong?.option === option.name ? wrong.message : null}
                />
              ))}
            </div>
          </details>
        );
      })}
    </>
  );
}

function One(props: {
  option: Option;
  value: unknown;
  set: (value: unknown) => void;
  units: Units;
  wrong: string | null;
}) {
  const { option, value, set, units, wrong } = props;
  const usual = option.default?.[units] ?? "";
  if (option.kind === "flag")
    return (
      <div class="field">
        <Tick label={option.label} on={value === true} set={(on) => set(on ? true : undefined)} />
        <span class="why">{option.help}</span>
      </div>
    );
  if (option.kind === "choice" && option.choices)
    return (
      <Select
        label={option.label}
        value={typeof value === "string" ? value : ""}
        set={(v) => set(v || undefined)}
        why={option.help}
        choices={[
          ["", usual ? `as usual: ${usual}` : "as usual"],
          ...option.choices.map((c) => [c, c] as const),
        ]}
      />
    );
  const text =
    option.kind === "list" && Array.isArray(value)
      ? value.join(", ")
      : typeof value === "string" || typeof value === "number"
        ? String(value)
        : "";
  const take = (typed: string) => {
    const plain = typed.trim();
    if (plain === "") set(undefined);
    else if (option.kind === "list") set(typed.split(/[,;]\s*/).filter((t) => t.trim() !== ""));
    else set(typed);
  };
  return (
    <Field
      label={option.label}
      value={text}
      set={take}
      why={option.help}
      wrong={wrong}
      placeholder={usual}
      length
    />
  );
}
