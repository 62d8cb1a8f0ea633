/** The vehicle door of a garage: which wall, how wide, how far along. */

import { useState } from "preact/hooks";

import { all, points, text, type Point } from "../fields";
import { distance } from "../geometry";
import { lengthOf, lengthText, type PlanUnit } from "../lengths";
import { Choice, Field, Note } from "../parts";
import { state, write } from "../visit";

export function DoorTool({ unit }: { readonly unit: PlanUnit }) {
  const garages = [...all(state.value, "area")].filter(([, fields]) => text(fields, "kind") === "garage");
  const [garage, setGarage] = useState(garages[0]?.[0] ?? "");
  const [wall, setWall] = useState("0");
  const [width, setWidth] = useState(unit === "ft" ? "16" : "4.9");
  const [told, setTold] = useState("");
  const outline = points(garages.find(([id]) => id === garage)?.[1], "outline");
  if (!garages.length) return <Note>Draw the garage first, as a floor of the kind “Garage”.</Note>;
  const walls = outline.map((a, k): [string, string] => {
    const b = outline[(k + 1) % outline.length] as Point;
    return [String(k), `${side(a, b)} wall, ${lengthText(distance(a, b), unit)}`];
  });
  const keep = (): void => {
    const length = lengthOf(width, unit);
    const [a, b] = [outline[Number(wall)], outline[(Number(wall) + 1) % outline.length]] as [Point, Point];
    const whole = distance(a, b);
    if (length === null || length > whole + 1e-9) return setTold(`The door must be narrower than its wall (${lengthText(whole, unit)}).`);
    const at = (far: number): [number, number] => [a[0] + ((b[0] - a[0]) * far) / whole, a[1] + ((b[1] - a[1]) * far) / whole];
    void write({ kind: "area", of: garage, fields: { vehicle_door: [at((whole - length) / 2), at((whole + length) / 2)] } });
    setTold("");
  };
  return (
    <div>
      {told && <div role="alert"><Note kind="warn">{told}</Note></div>}
      <div class="row fields">
        {garages.length > 1 && <Choice label="Garage" value={garage} change={setGarage} options={garages.map(([id]) => [id, id])} />}
        <Choice label="Wall with the vehicle door" value={wall} change={setWall} options={walls} />
        <Field label="Width of the door" value={width} change={setWidth} hint="Placed in the middle of the wall" />
      </div>
      <button type="button" class="main" onClick={keep}>Keep the door</button>
    </div>
  );
}

function side(a: Point, b: Point): string {
  const [dx, dy] = [b[0] - a[0], b[1] - a[1]];
  if (Math.abs(dx) > Math.abs(dy)) return dx > 0 ? "Lower" : "Upper";
  return dy > 0 ? "Right" : "Left";
}
