/** What is underfoot: one tap, remembered until another is tapped. */

import { useState } from "preact/hooks";

import { all, text } from "../fields";
import type { State } from "../record";
import { openVisit, state } from "../visit";

export interface Underfoot {
  readonly id: string;
  readonly name: string;
}

const USUAL: readonly Underfoot[] = [
  { id: "tile", name: "Tile" },
  { id: "wood", name: "Wood" },
  { id: "carpet", name: "Carpet" },
  { id: "concrete", name: "Bare concrete" },
  { id: "vinyl", name: "Vinyl" },
];

export function keptFinish(visit: string, now: State): Underfoot | null {
  const id = localStorage.getItem(`levelbook-finish-${visit}`) ?? "";
  return offered(now).find((each) => each.id === id) ?? null;
}

function offered(now: State): Underfoot[] {
  const known = [...all(now, "finish")].map(([id, fields]) => ({ id, name: text(fields, "name") || id }));
  return [...known, ...USUAL.filter((each) => !known.some((other) => other.id === each.id))];
}

export function FinishChips({ chosen, choose }: { readonly chosen: Underfoot | null; readonly choose: (to: Underfoot) => void }) {
  const [other, setOther] = useState<string | null>(null);
  const take = (to: Underfoot): void => {
    localStorage.setItem(`levelbook-finish-${openVisit.value}`, to.id);
    setOther(null);
    choose(to);
  };
  const list = offered(state.value);
  const own = chosen && !list.some((each) => each.id === chosen.id) ? [chosen] : [];
  const keep = (): void => {
    const name = other?.trim();
    if (name) take({ id: name.toLowerCase().replace(/\s+/g, "-").slice(0, 40), name });
  };
  return (
    <div class="chips scroll" role="group" aria-label="Underfoot">
      {[...own, ...list].map((each) => (
        <button key={each.id} type="button" class="chip" aria-pressed={each.id === chosen?.id} onClick={() => take(each)}>{each.name}</button>
      ))}
      {other === null ? <button type="button" class="chip" onClick={() => setOther("")}>Other…</button> : (
        <span class="inline">
          <input aria-label="Another finish" value={other} maxLength={60} onInput={(event) => setOther(event.currentTarget.value)} onKeyDown={(event) => { if (event.key === "Enter") keep(); }} />
          <button type="button" onClick={keep}>Keep</button>
        </span>
      )}
    </div>
  );
}
