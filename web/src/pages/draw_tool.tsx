/** Drawing by taps: a floor, an inner wall, or a section line, with snap to grid and right angles. */

import { useEffect, useState } from "preact/hooks";

import type { Area } from "../document";
import { all, nextName, points, type Point } from "../fields";
import { crosses, distance, turning } from "../geometry";
import { changeOf } from "../kinds";
import { lengthText, type PlanUnit } from "../lengths";
import { Choice, Note } from "../parts";
import { snap, squareOff } from "../snap";
import { state, suffix, write } from "../visit";
import type { Draft } from "./plan";
import { areaName, KINDS } from "./runs_tool";

const GRIDS = {
  ft: [["1", "1 ft"], ["0.5", "6 in"], ["2", "2 ft"], ["0", "no grid"]],
  m: [["0.25", "25 cm"], ["0.1", "10 cm"], ["0.5", "50 cm"], ["0", "no grid"]],
} as const;

interface Props {
  readonly what: string;
  readonly unit: PlanUnit;
  readonly tapped: Point | null;
  readonly show: (draft: Draft | null) => void;
}

export function DrawTool({ what, unit, tapped, show }: Props) {
  const [drawn, setDrawn] = useState<readonly Point[]>([]);
  const [kind, setKind] = useState<Area["kind"]>("living");
  const [grid, setGrid] = useState<string>(GRIDS[unit][0][0]);
  const [square, setSquare] = useState(what !== "section");
  const [told, setTold] = useState("");
  const floor = what === "draw";
  useEffect(() => {
    if (!tapped) return;
    const outlines = [...all(state.value, "area").values()].map((f) => points(f, "outline"));
    const legs = outlines.flatMap((o) => o.map((a, k): [Point, Point] => [a, o[(k + 1) % o.length] as Point]));
    const how = { grid: Number(grid), square, corners: [...drawn.slice(0, 1), ...outlines.flat()], legs: floor ? [] : legs, near: unit === "ft" ? 0.8 : 0.25 };
    const at = snap(tapped, drawn, how);
    const first = drawn[0];
    if (floor && first && drawn.length > 2 && distance(at, first) < 1e-9) return keep();
    if (!drawn.some((p) => distance(p, at) < 1e-9)) setDrawn(what === "section" ? [...drawn.slice(-1), at] : [...drawn, at]);
  }, [tapped]);
  const outline = floor && square ? squareOff(drawn) : drawn;
  useEffect(() => show({ points: outline, closed: floor && drawn.length > 2, typed: false }), [drawn, square]);
  const keep = (): void => {
    if (floor && crosses(outline)) return setTold("Two walls cross: take corners back.");
    if (floor) void write({ kind: "area", of: areaName(kind), fields: { kind, outline: turning(outline) > 0 ? outline : [...outline].reverse() } });
    else {
      const name = nextName(all(state.value, what).keys(), what, suffix.value);
      void write(changeOf(what, name, { line: outline }));
    }
    setDrawn([]);
    setTold("");
  };
  const last = drawn.at(-1);
  const before = drawn.at(-2);
  const least = floor ? 3 : 2;
  return (
    <div>
      <div class="row fields">
        {floor && <Choice label="Kind of floor" value={kind} change={setKind} options={KINDS} />}
        <Choice label="Grid" value={grid} change={setGrid} options={GRIDS[unit]} />
        <button type="button" aria-pressed={square} onClick={() => setSquare(!square)}>Right angles</button>
      </div>
      {told && <div role="alert"><Note kind="warn">{told}</Note></div>}
      <p role="status" class="told">
        {!last ? "Tap the plan corner by corner." : before ? `${drawn.length} corners; the last wall is ${lengthText(distance(before, last), unit)}.` : "Tap the next corner."}
      </p>
      <div class="row">
        <button type="button" disabled={!drawn.length} onClick={() => setDrawn(drawn.slice(0, -1))}>Take back the last corner</button>
        <button type="button" class="main" disabled={drawn.length < least} onClick={keep}>{floor ? "Close and keep" : "Keep"}</button>
      </div>
    </div>
  );
}
