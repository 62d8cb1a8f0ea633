/** Tracing: a picture of a sketch or floor plan under the plan, scaled and levelled by two taps. */

import { useEffect, useState } from "preact/hooks";

import type { Point } from "../fields";
import { lengthOf, type PlanUnit } from "../lengths";
import { Field, Note } from "../parts";
import { levelled, scaled, shifted, turnedBy, type Placed } from "../plan/placed";
import { changeSheet, removeSheet, setSheet, sheetOf, type Sheet } from "../plan/sheet";
import { state } from "../visit";
import type { Draft } from "./plan";

type Way = "scale" | "level" | "shift";
const WAYS: readonly (readonly [Way, string, string])[] = [
  ["scale", "Scale", "Tap both ends of something whose length you know."],
  ["level", "Make level", "Tap both ends of a wall that is level or upright."],
  ["shift", "Shift", "Tap a place of the picture, then where it belongs."],
];

interface Props {
  readonly unit: PlanUnit;
  readonly tapped: Point | null;
  readonly show: (draft: Draft | null) => void;
}

export function SheetTool({ unit, tapped, show }: Props) {
  const sheet = sheetOf(state.value);
  const [told, setTold] = useState("");
  const take = (file: File | undefined): void => {
    if (!file) return;
    setTold("");
    setSheet(file, file.name).catch((error: Error) => setTold(error.message));
  };
  return (
    <div>
      {told && <div role="alert"><Note kind="warn">{told}</Note></div>}
      {!sheet && <Note>Choose a picture of a sketch or floor plan; it lies under the plan to be traced over.</Note>}
      <div class="row">
        <label class={sheet ? "button" : "button main"}>{sheet ? "Another picture" : "Choose a picture"}
          <input type="file" class="hidden" accept="image/*" onChange={(event) => take(event.currentTarget.files?.[0])} />
        </label>
        {sheet && <Looks sheet={sheet} />}
      </div>
      {sheet && !sheet.locked && !sheet.hidden && <Places sheet={sheet} unit={unit} tapped={tapped} show={show} />}
    </div>
  );
}

/** Lock, hide, remove, and how strongly the picture shows. */
function Looks({ sheet }: { readonly sheet: Sheet }) {
  return (
    <>
      <button type="button" aria-pressed={sheet.locked} onClick={() => void changeSheet(sheet, { locked: !sheet.locked })}>Lock</button>
      <button type="button" aria-pressed={sheet.hidden} onClick={() => void changeSheet(sheet, { hidden: !sheet.hidden })}>Hide</button>
      {!sheet.locked && <button type="button" aria-label="Remove the picture" onClick={() => void removeSheet()}>Remove</button>}
      <div class="field">
        <label for="sheet-strength">Strength</label>
        <input id="sheet-strength" type="range" min="0.1" max="1" step="0.1" value={sheet.opacity}
          onChange={(event) => void changeSheet(sheet, { opacity: Number(event.currentTarget.value) })} />
      </div>
    </>
  );
}

function Places({ sheet, unit, tapped, show }: Props & { readonly sheet: Sheet }) {
  const [way, setWay] = useState<Way>("scale");
  const [taps, setTaps] = useState<readonly Point[]>([]);
  const [length, setLength] = useState("");
  const [told, setTold] = useState("");
  const lay = (to: Placed | null, why: string): void => {
    setTaps(to ? [] : taps);
    setTold(to ? "" : why);
    if (to) void changeSheet(sheet, { at: to.at, per: to.per, turned: to.turned });
  };
  useEffect(() => {
    if (!tapped) return;
    const first = taps.length === 1 ? taps[0] : undefined;
    if (!first) return setTaps([tapped]);
    if (way === "level") return lay(levelled(sheet, first, tapped), "Tap two places apart.");
    if (way === "shift") return lay(shifted(sheet, first, tapped), "");
    setTaps([first, tapped]);
  }, [tapped]);
  useEffect(() => show(taps.length ? { points: taps, closed: false, typed: false } : null), [taps]);
  const choose = (to: Way): void => {
    setWay(to);
    setTaps([]);
    setTold("");
  };
  const keep = (): void => {
    const found = lengthOf(length, unit);
    const [a, b] = taps as [Point, Point];
    if (found === null) return setTold(`Type the length between the two taps (${unit === "ft" ? "such as 12' 6" : "such as 3.8"}).`);
    setLength("");
    lay(scaled(sheet, a, b, found), "The two taps are too near each other: tap the ends of something longer.");
  };
  return (
    <>
      {told && <div role="alert"><Note kind="warn">{told}</Note></div>}
      <div class="row">
        {WAYS.map(([name, words]) => <button key={name} type="button" aria-pressed={way === name} onClick={() => choose(name)}>{words}</button>)}
        <button type="button" onClick={() => lay(turnedBy(sheet, -90), "")}>Turn by 90°</button>
      </div>
      <p role="status" class="told">{taps.length === 1 ? "Now the other end." : taps.length === 2 ? "Type the length between the two." : WAYS.find(([name]) => name === way)?.[2]}</p>
      {way === "scale" && taps.length === 2 && (
        <div class="row">
          <Field label={`Length between the taps (${unit === "ft" ? "feet and inches" : "metres"})`} value={length} change={setLength} />
          <button type="button" class="main" onClick={keep}>Scale</button>
        </div>
      )}
    </>
  );
}
