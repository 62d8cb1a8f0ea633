/** A rectangle, typed or tapped corner to corner; several of them join into one floor. */

import { useEffect, useState } from "preact/hooks";

import type { Area } from "../document";
import { all, points, type Point } from "../fields";
import { distance } from "../geometry";
import { lengthOf, lengthText, type PlanUnit } from "../lengths";
import { Choice, Field, Note } from "../parts";
import { state, write } from "../visit";
import type { Draft } from "./plan";
import { areaName, KINDS } from "./runs_tool";

interface Props {
  readonly unit: PlanUnit;
  readonly tapped: Point | null;
  readonly show: (draft: Draft | null) => void;
}

export function RectangleTool({ unit, tapped, show }: Props) {
  const [kind, setKind] = useState<Area["kind"]>("living");
  const [start, setStart] = useState<Point>([0, 0]);
  const [taps, setTaps] = useState(0);
  const [wide, setWide] = useState("");
  const [deep, setDeep] = useState("");
  const [told, setTold] = useState("");
  useEffect(() => {
    if (!tapped) return;
    const at = settled(tapped, unit);
    setTaps(taps + 1);
    if (taps % 2 === 0) return setStart(at);
    setStart([Math.min(start[0], at[0]), Math.min(start[1], at[1])]);
    setWide(lengthText(Math.abs(at[0] - start[0]), unit));
    setDeep(lengthText(Math.abs(at[1] - start[1]), unit));
  }, [tapped]);
  const [w, d] = [lengthOf(wide, unit), lengthOf(deep, unit)];
  const corners: Point[] = w && d ? [start, [start[0] + w, start[1]], [start[0] + w, start[1] + d], [start[0], start[1] + d]] : [start];
  useEffect(() => show({ points: corners, closed: corners.length > 1, typed: taps === 0 }), [start, w, d]);
  const set = (k: 0 | 1, typed: string): void => {
    const value = Number(typed.replace(",", ".").replace("−", "-"));
    if (Number.isFinite(value)) setStart(k ? [start[0], value] : [value, start[1]]);
  };
  const keep = (): void => {
    if (!w || !d) return setTold(`Type both lengths (${unit === "ft" ? "such as 12' 6" : "such as 3.8"}), or tap two opposite corners.`);
    void write({ kind: "area", of: areaName(kind), fields: { kind, outline: corners } });
    setWide("");
    setDeep("");
    setTaps(0);
    setTold("");
    show(null);
  };
  return (
    <div>
      {told && <div role="alert"><Note kind="warn">{told}</Note></div>}
      <div class="row fields">
        <Choice label="Kind of floor" value={kind} change={setKind} options={KINDS} />
        <Field label={`Width (${unit})`} value={wide} change={setWide} />
        <Field label={`Depth (${unit})`} value={deep} change={setDeep} />
      </div>
      <div class="row fields">
        <Field key={`x${start[0]}`} label={`Left side at (${unit})`} value={String(start[0])} change={(to) => set(0, to)} />
        <Field key={`y${start[1]}`} label={`Lower side at (${unit})`} value={String(start[1])} change={(to) => set(1, to)} />
      </div>
      <p role="status" class="told">{taps % 2 ? "Now tap the opposite corner." : "Type width and depth, or tap two opposite corners."} Rectangles that overlap or share a wall are made one by “Join”.</p>
      <button type="button" class="main" disabled={!w || !d} onClick={keep}>Keep the rectangle</button>
    </div>
  );
}

/** On a corner that is there already, else on the half-foot or 10 cm. */
function settled(at: Point, unit: PlanUnit): Point {
  const grid = unit === "ft" ? 0.5 : 0.1;
  const corner = [...all(state.value, "area").values()].flatMap((f) => points(f, "outline")).find((p) => distance(p, at) <= grid * 2);
  const to = (value: number): number => Math.round(Math.round(value / grid) * grid * 1000) / 1000;
  return corner ?? [to(at[0]), to(at[1])];
}
