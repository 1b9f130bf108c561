/** Fields with a label, a word of help and what is wrong with them. */

import { useId } from "preact/hooks";
import type { ComponentChildren } from "preact";

interface FieldProps {
  label: string;
  value: string;
  set: (value: string) => void;
  why?: string | undefined;
  wrong?: string | null | undefined;
  placeholder?: string;
  length?: boolean;
  onEnter?: () => void;
  onLeave?: () => void;
  disabled?: boolean;
  list?: readonly string[];
  type?: "text" | "search";
  max?: number;
}

export function Field(props: FieldProps) {
  const id = useId();
  const { label, value, set, why, wrong, placeholder, length, onEnter, onLeave, disabled, list } = props;
  const told = [why ? `${id}-why` : "", wrong ? `${id}-wrong` : ""].filter(Boolean).join(" ");
  return (
    <div class="field">
      <label for={id}>{label}</label>
      <input
        id={id}
        type={props.type ?? "text"}
        value={value}
        placeholder={placeholder ?? ""}
        inputMode={length ? "text" : undefined}
        autoComplete="off"
        spellcheck={false}
        maxLength={props.max ?? 200}
        disabled={disabled}
        list={list ? `${id}-list` : undefined}
        aria-invalid={wrong ? "true" : undefined}
        aria-describedby={told || undefined}
        onInput={(event) => set(event.currentTarget.value)}
        onBlur={onLeave}
        onKeyDown={(event) => {
          if (event.key === "Enter" && onEnter) {
            event.preventDefault();
            onEnter();
          }
        }}
      />
      {list && (
        <datalist id={`${id}-list`}>
          {list.map((entry) => (
            <option key={entry} value={entry} />
          ))}
        </datalist>
      )}
      {why && (
        <span class="why" id={`${id}-why`}>
          {why}
        </span>
      )}
      {wrong && (
        <span class="wrong" id={`${id}-wrong`} role="alert">
          {wrong}
        </span>
      )}
    </div>
  );
}

export function Select<T extends string>(props: {
  label: string;
  value: T;
  set: (value: T) => void;
  choices: readonly (readonly [T, string])[];
  why?: string | undefined;
}) {
  const id = useId();
  return (
    <div class="field">
      <label for={id}>{props.label}</label>
      <select
        id={id}
        value={props.value}
        aria-describedby={props.why ? `${id}-why` : undefined}
        onChange={(event) => props.set(event.currentTarget.value as T)}
      >
        {props.choices.map(([value, words]) => (
          <option key={value} value={value}>
            {words}
          </option>
        ))}
      </select>
      {props.why && (
        <span class="why" id={`${id}-why`}>
          {props.why}
        </span>
      )}
    </div>
  );
}

export function Choices<T extends string>(props: {
  legend: string;
  value: T;
  set: (value: T) => void;
  choices: readonly (readonly [T, string])[];
  hidden?: boolean;
}) {
  const name = useId();
  return (
    <fieldset>
      <legend class={props.hidden ? "unseen" : ""}>{props.legend}</legend>
      <div class="choices">
        {props.choices.map(([value, words]) => (
          <label key={value}>
            <input
              type="radio"
              name={name}
              value={value}
              checked={value === props.value}
              onChange={() => props.set(value)}
            />
            {words}
          </label>
        ))}
      </div>
    </fieldset>
  );
}

export function Tick(props: { label: ComponentChildren; on: boolean; set: (on: boolean) => void }) {
  return (
    <label class="tick">
      <input
        type="checkbox"
        checked={props.on}
        onChange={(event) => props.set(event.currentTarget.checked)}
      />
      <span>{props.label}</span>
    </label>
  );
}
