/** Moving things afterwards: take hold of one, then drag it, or move it by keys and buttons.
 * A run of steps is written down as one action a moment after the last, so one undo takes it back. */

import { useSignal, type Signal } from "@preact/signals";
import { useEffect, useRef } from "preact/hooks";

import { all, points, readings, text, type Point } from "../fields";
import { changeOf } from "../kinds";
import { lengthText, type PlanUnit } from "../lengths";
import { Choice, Note } from "../parts";
import { heldPoints, heldWords, holdAt, type Held } from "../plan/holding";
import { cornerAdded, cornerRemoved, moveOf, withChanges, type Move } from "../plan/moving";
import type { PlanEvents } from "../plan/PlanMap";
import type { State } from "../record";
import { state, write, type Change } from "../visit";

const STEPS = {
  ft: [["0.08333333333333333", "1 in"], ["0.5", "6 in"], ["1", "1 ft"], ["5", "5 ft"]],
  m: [["0.01", "1 cm"], ["0.1", "10 cm"], ["0.5", "50 cm"], ["2", "2 m"]],
} as const;
const PAUSE_MS = 700;
const NONE: Point = [0, 0];

export interface Holding {
  readonly held: Signal<Held | null>;
  readonly by: Signal<Point>;
  readonly step: Signal<string>;
  readonly squarely: Signal<boolean>;
  readonly told: Signal<string>;
  /** The state with the move that is under way, and the points of what is held. */
  readonly seen: () => { readonly state: State; readonly points: readonly Point[]; readonly move: Move | null };
  readonly events: Pick<PlanEvents, "tap" | "grab" | "drag" | "nudge">;
  readonly shift: (way: Point, fine: boolean) => void;
  readonly settle: () => void;
  readonly letGo: () => void;
}

export function useHolding(active: boolean, unit: PlanUnit): Holding {
  const held = useSignal<Held | null>(null);
  const by = useSignal<Point>(NONE);
  const step = useSignal<string>(STEPS[unit][1][0]);
  const squarely = useSignal(true);
  const told = useSignal("");
  const timer = useRef<ReturnType<typeof setTimeout> | undefined>(undefined);
  const current = (): Move | null => (held.value && (by.value[0] || by.value[1]) ? moveOf(state.value, held.value, by.value, squarely.value) : null);
  const settle = (): void => {
    clearTimeout(timer.current);
    const move = current();
    by.value = NONE;
    if (!move) return;
    told.value = "refused" in move ? move.refused : move.along ? `${move.along} station${move.along > 1 ? "s" : ""} went along with the wall.` : "";
    if ("refused" in move) return;
    if (move.k !== undefined && held.value) held.value = { ...held.value, k: move.k };
    void write(...move.changes);
  };
  const letGo = (): void => {
    settle();
    held.value = null;
  };
  const take = (to: Held | null): void => {
    settle();
    told.value = "";
    held.value = to;
  };
  const shift = (way: Point, fine: boolean): void => {
    const size = Number(step.value) / (fine ? 10 : 1);
    by.value = [by.value[0] + way[0] * size, by.value[1] + way[1] * size];
    clearTimeout(timer.current);
    timer.current = setTimeout(settle, PAUSE_MS);
  };
  const grab = (at: Point, near: number): boolean => {
    if (!active) return false;
    const found = holdAt(state.value, at, near);
    const same = JSON.stringify(found) === JSON.stringify(held.value);
    // A finger on a floor moves the view, unless that floor is held already.
    if (!found || (found.what === "floor" && !same)) return false;
    if (!same) take(found);
    return true;
  };
  const drag = (much: Point, done: boolean): void => {
    const size = Number(step.value);
    by.value = [Math.round(much[0] / size) * size, Math.round(much[1] / size) * size];
    if (done) settle();
  };
  const tap = (at: Point, _: string | null, near: number): void => {
    if (active) take(holdAt(state.value, at, near));
  };
  const nudge = (way: Point, fine: boolean): boolean => {
    if (!active || !held.value) return false;
    shift(way, fine);
    return true;
  };
  useEffect(() => (active ? undefined : letGo()), [active]);
  useEffect(() => () => settle(), []);
  const seen: Holding["seen"] = () => {
    const move = current();
    const shown = move && "changes" in move ? withChanges(state.value, move.changes) : state.value;
    const at = held.value && move && "k" in move && move.k !== undefined ? { ...held.value, k: move.k } : held.value;
    return { state: shown, move, points: at ? heldPoints(shown, at) : [] };
  };
  return { held, by, step, squarely, told, seen, events: { tap, grab, drag, nudge }, shift, settle, letGo };
}

const PAD: readonly (readonly [Point, string, string])[] = [
  [[0, 1], "↑", "Move up"], [[-1, 0], "←", "Move left"], [[1, 0], "→", "Move right"], [[0, -1], "↓", "Move down"],
];

export function MoveTool({ holding, unit }: { readonly holding: Holding; readonly unit: PlanUnit }) {
  const { held: held$, by, step, squarely, told, seen, shift, settle, letGo } = holding;
  const held = held$.value;
  const done = (move: Move): void => {
    settle();
    if ("refused" in move) told.value = move.refused;
    else void write(...move.changes);
  };
  if (!held) return <Note>Tap what you want to move: a corner, a wall, a floor, a door, a mark, the base, a line, a station. Readings stay with their stations.</Note>;
  const move = seen().move;
  const refused = move && "refused" in move ? move.refused : told.value;
  const gone = removal(state.value, held);
  return (
    <div>
      <p role="status" class="told"><strong>{heldWords(state.value, held)}</strong>{moved(by.value, unit)}</p>
      {refused && <div role="alert"><Note kind="warn">{refused}</Note></div>}
      <div class="row">
        <div class="pad four" role="group" aria-label="Move it">
          {PAD.map(([way, arrow, words]) => <button key={words} type="button" aria-label={words} onClick={() => shift(way, false)}>{arrow}</button>)}
        </div>
        <Choice label="Step" value={step.value} options={STEPS[unit]} change={(to) => { settle(); step.value = to; }} />
        {held.what === "corner" && <button type="button" aria-pressed={squarely.value} onClick={() => { settle(); squarely.value = !squarely.value; }}>Right angles</button>}
      </div>
      <div class="row">
        {(held.what === "side" || (held.what === "bend" && held.kind === "wall")) && <button type="button" onClick={() => done(cornerAdded(state.value, held))}>Put a corner in</button>}
        {(held.what === "corner" || held.what === "bend") && <button type="button" onClick={() => { const cut = cornerRemoved(state.value, held); done(cut); if ("changes" in cut) held$.value = null; }}>Take the corner out</button>}
        {gone && <button type="button" onClick={() => { settle(); held$.value = null; void write(gone); }}>Remove it</button>}
        <button type="button" onClick={letGo}>Let go</button>
      </div>
      <p class="small">Drag it, or use the arrow keys while the plan has the focus; Shift makes a tenth of the step.</p>
    </div>
  );
}

function moved(by: Point, unit: PlanUnit): string {
  const one = (much: number, more: string, less: string): string => (Math.abs(much) < 1e-9 ? "" : `, ${lengthText(Math.abs(much), unit)} ${much > 0 ? more : less}`);
  return `${one(by[0], "right", "left")}${one(by[1], "up", "down")}`;
}

/** What removes the thing that is held, where nothing that was read hangs on it. */
function removal(now: State, { what, kind, of }: Held): Change | null {
  if (what === "door") return changeOf(kind, of, { vehicle_door: null });
  if (what === "floor") return [...all(now, "station").values()].some((s) => text(s, "area") === of) ? null : changeOf(kind, of, { gone: true });
  if (kind === "setup") return changeOf(kind, of, { base: null });
  if (kind === "area") return null;
  if (kind === "station" && readings(now, of).length > 0) return null;
  if (kind === "station" && [...all(now, "reading").values()].some((r) => text(r, "station") === of)) return null;
  return points(all(now, kind).get(of), "line").length && what === "bend" ? null : changeOf(kind, of, { gone: true });
}
