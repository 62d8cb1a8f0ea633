/** An outline by typed wall runs: a length, then the direction you walk. */

import { useEffect, useState } from "preact/hooks";

import type { Area } from "../document";
import { all, nextName, type Point } from "../fields";
import { crosses, turning } from "../geometry";
import { lengthOf, lengthText, type PlanUnit } from "../lengths";
import { Choice, Field, Note } from "../parts";
import { closed, closing, corners, type Run, spread } from "../runs";
import { state, suffix, write } from "../visit";
import type { Draft } from "./plan";

const PAD: readonly (readonly [number, string, string])[] = [
  [135, "↖", "up and left"], [90, "↑", "up"], [45, "↗", "up and right"],
  [180, "←", "left"], [-1, "", ""], [0, "→", "right"],
  [225, "↙", "down and left"], [270, "↓", "down"], [315, "↘", "down and right"],
];
export const KINDS: readonly (readonly [Area["kind"], string])[] = [["living", "House"], ["garage", "Garage"], ["addition", "Addition"], ["porch", "Porch"], ["other", "Other"]];

interface Props {
  readonly unit: PlanUnit;
  readonly start: Point | null;
  readonly show: (draft: Draft | null) => void;
}

export function RunsTool({ unit, start, show }: Props) {
  const [kind, setKind] = useState<Area["kind"]>(all(state.value, "area").size ? "garage" : "living");
  const [runs, setRuns] = useState<readonly Run[]>([]);
  const [typed, setTyped] = useState("");
  const [told, setTold] = useState("");
  const [x, setX] = useState("0");
  const [y, setY] = useState("0");
  useEffect(() => {
    if (start && !runs.length) {
      setX(String(start[0]));
      setY(String(start[1]));
    }
  }, [start]);
  const from: Point = [Number(x) || 0, Number(y) || 0];
  const miss = closing(runs, from);
  useEffect(() => show({ points: corners(runs, from), closed: false, typed: true }), [runs, x, y]);
  const add = (degrees: number, direction: string): void => {
    const length = lengthOf(typed, unit);
    if (length === null) {
      setTold(`Type the length of the wall first (${unit === "ft" ? "such as 12' 6 or 12.5" : "such as 3.8"}), then tap ${direction}.`);
      return;
    }
    setTold("");
    setTyped("");
    setRuns([...runs, { degrees, length }]);
  };
  const keep = (outline: readonly Point[]): void => {
    if (outline.length < 3) return setTold("An outline needs three walls or more.");
    if (crosses(outline)) return setTold("Two walls cross: check the last lengths and directions.");
    const sensed = turning(outline) > 0 ? outline : [...outline].reverse();
    void write({ kind: "area", of: areaName(kind), fields: { kind, outline: sensed } });
    setRuns([]);
    show(null);
    setKind("garage");
    setTold("");
  };
  return (
    <div class="runs">
      <div class="row fields">
        <Choice label="Floor" value={kind} change={setKind} options={KINDS} />
        {!runs.length && (
          <details class="start" open={all(state.value, "area").size > 0}>
            <summary>Start elsewhere</summary>
            <div class="row fields">
              <Field label={`Start right of 0 (${unit})`} value={x} change={setX} inputMode="decimal" />
              <Field label={`Start up from 0 (${unit})`} value={y} change={setY} inputMode="decimal" />
            </div>
          </details>
        )}
      </div>
      {told && <div role="alert"><Note kind="warn">{told}</Note></div>}
      <div class="row">
        <Field label={`Wall length (${unit === "ft" ? "feet and inches" : "metres"})`} value={typed} change={setTyped} inputMode="text" />
        <div class="pad" role="group" aria-label="Direction of the wall">
          {PAD.map(([degrees, arrow, words]) =>
            degrees < 0 ? <span key="middle" /> : (
              <button key={words} type="button" aria-label={words} onClick={() => add(degrees, words)}>{arrow}</button>
            ))}
        </div>
      </div>
      <p role="status" class="told">{walked(runs, unit, miss)}</p>
      <div class="row">
        <button type="button" disabled={!runs.length} onClick={() => setRuns(runs.slice(0, -1))}>Take back the last wall</button>
        {runs.length > 1 && <button type="button" class="main" onClick={() => keep(closed(runs, from))}>{miss.size < 1e-6 ? "Keep this outline" : "Close with a straight wall"}</button>}
        {runs.length > 2 && miss.size >= 1e-6 && miss.size < miss.around / 10 && (
          <button type="button" onClick={() => keep(spread(runs, from))}>Spread the error over the walls</button>
        )}
      </div>
    </div>
  );
}

function walked(runs: readonly Run[], unit: PlanUnit, miss: ReturnType<typeof closing>): string {
  if (!runs.length) return "Walk round the outside: type a length, tap the way you go.";
  const last = lengthText((runs.at(-1) as Run).length, unit);
  if (miss.size < 1e-6) return `${runs.length} walls, ${last} the last. The outline closes.`;
  return `${runs.length} walls, ${last} the last. From the start: ${lengthText(miss.size, unit)} (1 in ${Math.round(miss.around / miss.size)}).`;
}

export function areaName(kind: string): string {
  const base = kind === "living" ? "house" : kind;
  const names = all(state.value, "area");
  if (!names.has(base) && !suffix.value) return base;
  return nextName([...names.keys(), `${base}1`], base, suffix.value);
}
