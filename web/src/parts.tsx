/** Small parts that pages are made of. */

import { useId } from "preact/hooks";
import type { ComponentChildren } from "preact";

interface FieldProps {
  readonly label: string;
  readonly value: string;
  readonly change: (value: string) => void;
  readonly hint?: string;
  readonly type?: string;
  readonly inputMode?: "text" | "decimal" | "none";
  readonly maxLength?: number;
  readonly required?: boolean;
  readonly onBlur?: () => void;
}

export function Field({ label, value, change, hint, type = "text", inputMode = "text", maxLength = 200, required = false, onBlur }: FieldProps) {
  const id = useId();
  const described = hint ? { "aria-describedby": `${id}h` } : {};
  return (
    <div class="field">
      <label for={id}>{label}</label>
      <input id={id} value={value} type={type as "text"} inputMode={inputMode} maxLength={maxLength} autocomplete="off" required={required} {...described}
        onInput={(event) => change(event.currentTarget.value)} onBlur={onBlur ?? NOTHING} />
      {hint && <small id={`${id}h`}>{hint}</small>}
    </div>
  );
}

const NOTHING = (): void => undefined;

interface ChoiceProps<T extends string> {
  readonly label: string;
  readonly value: T;
  readonly options: readonly (readonly [T, string])[];
  readonly change: (value: T) => void;
}

/** One of several, in a list. */
export function Choice<T extends string>({ label, value, options, change }: ChoiceProps<T>) {
  const id = useId();
  return (
    <div class="field">
      <label for={id}>{label}</label>
      <select id={id} value={value} onChange={(event) => change(event.currentTarget.value as T)}>
        {options.map(([key, words]) => <option key={key} value={key} selected={key === value}>{words}</option>)}
      </select>
    </div>
  );
}

/** One of few, a tap each. */
export function Chips<T extends string>({ label, value, options, change, scroll = false }: ChoiceProps<T> & { readonly scroll?: boolean }) {
  return (
    <div class={scroll ? "chips scroll" : "chips"} role="group" aria-label={label}>
      {options.map(([key, words]) => (
        <button key={key} type="button" class="chip" aria-pressed={key === value} onClick={() => change(key)}>{words}</button>
      ))}
    </div>
  );
}

export function Note({ kind = "plain", children }: { readonly kind?: "plain" | "warn" | "good"; readonly children: ComponentChildren }) {
  return <p class={`note ${kind}`}>{children}</p>;
}

export function Figure({ name, value, doubt }: { readonly name: string; readonly value: string; readonly doubt: string }) {
  return (
    <div class="figure">
      <dt>{name}</dt>
      <dd>{value} <span class="doubt">{doubt}</span></dd>
    </div>
  );
}
