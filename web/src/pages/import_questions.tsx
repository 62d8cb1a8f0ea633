/** What a file does not tell by itself, asked in words; what was answered can be changed. */

import { useState } from "preact/hooks";

import { Field } from "../parts";
import type { Answers, Question } from "../importing";

interface Props {
  readonly questions: readonly Question[];
  readonly answer: (given: Answers) => void;
}

/** The questions that are open. Nothing is chosen beforehand: what is usual is only said. */
export function Questions({ questions, answer }: Props) {
  const [given, setGiven] = useState<Answers>({});
  const open = questions.filter((q) => !(given[q.key] ?? "").trim());
  const set = (key: string, value: string): void => setGiven((now) => ({ ...now, [key]: value }));
  const submit = (event: Event): void => {
    event.preventDefault();
    const asked = new Set(questions.map((q) => q.key));
    answer(Object.fromEntries(Object.entries(given).filter(([key, value]) => asked.has(key) && value.trim()).map(([key, value]) => [key, value.trim()])));
  };
  return (
    <form onSubmit={submit} class="questions" noValidate>
      <h2 id="asks">{questions.length === 1 ? "One thing is unclear" : `${questions.length} things are unclear`}</h2>
      {questions.map((question) => <Ask key={question.key} question={question} value={given[question.key] ?? ""} set={(value) => set(question.key, value)} />)}
      <button type="submit" class="main wide" disabled={open.length === questions.length}>Go on</button>
      {open.length > 0 && open.length < questions.length && <p class="told">{open.length} still open; they are asked again.</p>}
    </form>
  );
}

function Ask({ question, value, set }: { readonly question: Question; readonly value: string; readonly set: (value: string) => void }) {
  if (question.options.length === 0) {
    const hint = question.usual ? { hint: `Most likely ${question.usual}` } : {};
    return (
      <div class="asked">
        <Field label={question.asks} value={value} change={set} type={question.key === "date" ? "date" : "text"} {...hint} />
        {question.usual && value !== question.usual && <button type="button" class="chip" onClick={() => set(question.usual ?? "")}>Take {question.usual}</button>}
      </div>
    );
  }
  return (
    <fieldset class="asked">
      <legend>{question.asks}</legend>
      {question.options.map((option) => (
        <label key={option.key} class="option">
          <input type="radio" name={question.key} value={option.key} checked={value === option.key} onChange={() => set(option.key)} />
          <span>{isLetter(question.key, option.key) ? <><b>{option.key}</b> {option.says}</> : option.says}{option.key === question.usual && <small> (most likely)</small>}</span>
        </label>
      ))}
    </fieldset>
  );
}

/** Whether an option is a column, a sheet or a name of the record, which its own key tells best. */
function isLetter(question: string, option: string): boolean {
  return option !== "none" && /column\.|^sheet$|^instrument$/.test(question) && option !== "new";
}

interface GivenProps {
  readonly answers: Answers;
  readonly asked: { readonly [key: string]: Question };
  readonly forget: (key: string) => void;
}

/** What was answered so far, each with a way back. */
export function Given({ answers, asked, forget }: GivenProps) {
  const keys = Object.keys(answers);
  if (!keys.length) return null;
  return (
    <details class="given">
      <summary>Answered so far: {keys.length}</summary>
      <ul class="list">
        {keys.map((key) => {
          const question = asked[key];
          const says = question?.options.find((option) => option.key === answers[key])?.says;
          return (
            <li key={key}>
              <span class="grow">{question?.asks ?? key} <b>{says ?? answers[key]}</b></span>
              <button type="button" onClick={() => forget(key)} aria-label={`Change the answer: ${question?.asks ?? key}`}>Change</button>
            </li>
          );
        })}
      </ul>
    </details>
  );
}
