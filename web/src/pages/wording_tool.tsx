/** The inspector's own words: a sentence replaced, with the reason, and what was changed kept. */

import { useState } from "preact/hooks";

import { all, text } from "../fields";
import { Choice, Field, Note } from "../parts";
import { author, state, write } from "../visit";
import type { Assessed } from "./findings";

const OUTCOME = "screening.outcome";
const OUTCOMES = ["nothing unusual", "keep watching", "ask an engineer", "readings not sufficient"] as const;

export function WordingTool({ found }: { readonly found: Assessed }) {
  const sentences = found.words.sentences ?? {};
  const [key, setKey] = useState("");
  const [typed, setTyped] = useState("");
  const [reason, setReason] = useState("");
  const [told, setTold] = useState("");
  const changed = [...all(state.value, "wording")];
  const choose = (to: string): void => {
    setKey(to);
    setTyped(to === OUTCOME ? found.screening.outcome : (sentences[to] ?? ""));
    setTold("");
  };
  const keep = (): void => {
    if (!typed.trim() || !reason.trim()) return setTold("A sentence is replaced only with words and a reason. Both stand in the report.");
    const by = author.value ? { by: author.value } : {};
    void write({ kind: "wording", of: key, fields: { text: typed.trim(), reason: reason.trim(), gone: null, ...by } });
    setReason("");
    choose("");
  };
  const options: [string, string][] = [
    ["", "Choose a sentence"],
    [OUTCOME, `The outcome: ${found.screening.outcome}`],
    ...Object.entries(sentences).filter(([name]) => name.length <= 64).map(([name, words]): [string, string] => [name, words.length > 90 ? `${words.slice(0, 90)}…` : words]),
  ];
  return (
    <details class="wording">
      <summary>Change the wording</summary>
      {told && <div role="alert"><Note kind="warn">{told}</Note></div>}
      <Choice label="Sentence" value={key} change={choose} options={options} />
      {key === OUTCOME && <Choice label="Outcome" value={typed} change={setTyped} options={OUTCOMES.map((o) => [o, o])} />}
      {key && key !== OUTCOME && (
        <div class="field">
          <label for="wording-text">Your words</label>
          <textarea id="wording-text" rows={4} maxLength={2000} value={typed} onInput={(event) => setTyped(event.currentTarget.value)} />
        </div>
      )}
      {key && <Field label="Reason" value={reason} change={setReason} maxLength={500} hint="Kept with the change, and told in the report" />}
      {key && <button type="button" class="main" onClick={keep}>Keep these words</button>}
      {changed.length > 0 && (
        <ul class="list">
          {changed.map(([name, fields]) => (
            <li key={name}>
              <span class="grow">{text(fields, "text")} · because {text(fields, "reason")}</span>
              <button type="button" aria-label={`Take back the change of ${name}`} onClick={() => void write({ kind: "wording", of: name, fields: { gone: true } })}>Take back</button>
            </li>
          ))}
        </ul>
      )}
    </details>
  );
}
