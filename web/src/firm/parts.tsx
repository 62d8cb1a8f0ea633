/** Small parts of the firm's pages. */

import { useId, useRef, useState } from "preact/hooks";
import type { ComponentChildren } from "preact";

export function Told({ children }: { readonly children: string }) {
  return children ? <p class="note warn" role="alert">{children}</p> : null;
}

interface BoxProps {
  readonly label: string;
  readonly value: string;
  readonly change: (to: string) => void;
  readonly type?: string;
  readonly autocomplete?: string;
  readonly hint?: string;
  /** What is offered as one types, each with a word about it. */
  readonly choices?: readonly (readonly [value: string, about: string])[];
  readonly min?: string;
  readonly max?: string;
}

/** A line to fill in, with what the browser may fill in by itself, and choices as one types. */
export function Box({ label, value, change, hint, choices, type = "text", autocomplete = "off", ...more }: BoxProps) {
  const id = useId();
  return (
    <div class="field">
      <label for={id}>{label}</label>
      <input id={id} type={type as "text"} value={value} autocomplete={autocomplete} maxLength={254} {...more}
        {...(choices ? { list: `${id}c` } : {})} {...(hint ? { "aria-describedby": `${id}h` } : {})}
        {...(type === "number" ? { step: "any" } : {})} onInput={(event) => change(event.currentTarget.value)} />
      {choices && <datalist id={`${id}c`}>{choices.map(([each, about]) => <option key={each} value={each} label={about || each} />)}</datalist>}
      {hint && <small id={`${id}h`}>{hint}</small>}
    </div>
  );
}

interface SecretProps {
  readonly label: string;
  readonly value: string;
  readonly change: (to: string) => void;
  readonly autocomplete: "current-password" | "new-password";
  readonly hint?: string;
}

/** A password, shown when asked for. */
export function Secret({ label, value, change, autocomplete, hint }: SecretProps) {
  const id = useId();
  const [open, setOpen] = useState(false);
  return (
    <div class="field">
      <label for={id}>{label}</label>
      <div class="secret">
        <input id={id} type={(open ? "text" : "password") as "text"} value={value} autocomplete={autocomplete} autocapitalize="none" spellcheck={false}
          {...(hint ? { "aria-describedby": `${id}h` } : {})} onInput={(event) => change(event.currentTarget.value)} />
        <button type="button" aria-pressed={open} aria-label={`Show: ${label}`} onClick={() => setOpen(!open)}>{open ? "Hide" : "Show"}</button>
      </div>
      {hint && <small id={`${id}h`}>{hint}</small>}
    </div>
  );
}

interface ProseProps {
  readonly label: string;
  readonly value: string;
  readonly change: (to: string) => void;
}

/** Some lines of text. */
export function Prose({ label, value, change }: ProseProps) {
  const id = useId();
  return (
    <div class="field">
      <label for={id}>{label}</label>
      <textarea id={id} rows={2} maxLength={2000} value={value} onInput={(event) => change(event.currentTarget.value)} />
    </div>
  );
}

interface SureProps {
  readonly label: string;
  readonly asks: string;
  readonly yes: string;
  readonly then: () => void;
  readonly busy?: boolean;
  /** Told to screen readers in place of the label where several look the same. */
  readonly name?: string;
}

/** A button that asks before it does what cannot be taken back. */
export function Sure({ label, asks, yes, then, busy = false, name = label }: SureProps) {
  const [asked, setAsked] = useState(false);
  if (!asked) return <button type="button" aria-label={name} disabled={busy} onClick={() => setAsked(true)}>{label}</button>;
  return (
    <div class="note sure" role="group" aria-label={name}>
      <p>{asks}</p>
      <div class="row">
        <button type="button" class="main" disabled={busy} ref={(button) => button?.focus()} onClick={() => { setAsked(false); then(); }}>{yes}</button>
        <button type="button" onClick={() => setAsked(false)}>Leave it</button>
      </div>
    </div>
  );
}

/** An address or a text to take along: selected at a tap, copied by a button. */
export function Copied({ label, text, lines = 1 }: { readonly label: string; readonly text: string; readonly lines?: number }) {
  const id = useId();
  const box = useRef<HTMLTextAreaElement>(null);
  const [told, setTold] = useState("");
  const copy = async (): Promise<void> => {
    box.current?.select();
    const done = window.isSecureContext
      ? await navigator.clipboard.writeText(text).then(() => true).catch(() => document.execCommand("copy"))
      : document.execCommand("copy");
    setTold(done ? "Copied." : "Copy the marked text by hand.");
  };
  return (
    <div class="field copied">
      <label for={id}>{label}</label>
      <textarea id={id} ref={box} readOnly rows={lines} value={text} onFocus={(event) => event.currentTarget.select()} />
      <div class="row">
        <button type="button" onClick={() => void copy()}>Copy</button>
        {"share" in navigator && lines < 4 && <button type="button" onClick={() => void navigator.share({ url: text }).catch(() => undefined)}>Share…</button>}
        <span role="status">{told}</span>
      </div>
    </div>
  );
}

const SHAPES: { readonly [state: string]: readonly [shape: string, word: string] } = {
  draft: ["○", "Draft"],
  "for review": ["◇", "For review"],
  released: ["●", "Released"],
  changed: ["▲", "Changed since release"],
};

/** The state of a visit as a shape and a word. */
export function StateMark({ state }: { readonly state: string }) {
  const [shape, word] = SHAPES[state] ?? ["○", state];
  return <span class={`state ${state.replace(" ", "-")}`}><span aria-hidden="true">{shape}</span> {word}</span>;
}

export const STATES = Object.entries(SHAPES).map(([state, [, word]]): [string, string] => [state, word]);

export function Card({ title, children }: { readonly title: string; readonly children: ComponentChildren }) {
  const id = useId();
  return <section class="card" aria-labelledby={id}><h2 id={id}>{title}</h2>{children}</section>;
}
