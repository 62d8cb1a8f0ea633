/** Everything that was ever written of this visit, the last first. */

import { useState } from "preact/hooks";

import type { Entry } from "../record";
import { entries, openVisit } from "../visit";

const STEP = 100;

export function History() {
  const [most, setMost] = useState(STEP);
  const ordered = [...entries.value].sort((a, b) => (a.clock < b.clock ? 1 : -1));
  const undone = new Set(ordered.flatMap((entry) => (entry.do === "undo" ? [entry.undoes] : [])));
  return (
    <>
      <h1>History</h1>
      <p>{ordered.length} entries. Nothing is ever taken out; an undo is an entry of its own. <a href={`#/${openVisit.value}/details`}>Back to the house</a></p>
      <ul class="list history">
        {ordered.slice(0, most).map((entry) => (
          <li key={entry.id}>
            <span class="grow">{words(entry, ordered)}{undone.has(entry.id) && " · undone"}</span>
            <small>{entry.author} · {when(entry.made)} · {entry.device.slice(0, 4)}</small>
          </li>
        ))}
      </ul>
      {ordered.length > most && <button type="button" onClick={() => setMost(most + STEP * 5)}>More</button>}
    </>
  );
}

function words(entry: Entry, among: readonly Entry[]): string {
  if (entry.do === "undo") {
    const other = among.find((each) => each.id === entry.undoes);
    return `undo: ${other ? words(other, []) : entry.undoes.slice(0, 8)}`;
  }
  const fields = Object.entries(entry.fields).map(([name, value]) => `${name} ${typeof value === "string" ? value : JSON.stringify(value)}`);
  return `${entry.kind} ${entry.of}: ${fields.join(", ").slice(0, 160)}`;
}

function when(made: string): string {
  const time = new Date(made);
  return made && !Number.isNaN(time.getTime()) ? time.toLocaleString() : "no time";
}
