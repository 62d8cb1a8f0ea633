/** Moving what is on the plan: the changes that a move is made of. Readings stay with their stations. */

import { all, pair, point, points, rings, text, type Point } from "../fields";
import { fromOutline, inside, onLeg } from "../geometry";
import type { Fields, State } from "../record";
import { changeOf, type Change } from "../kinds";
import { placeField, type Held } from "./holding";
import { movedCorner, movedDoor, movedSide, nearestSide, onSide, withCorner, withoutCorner, wrong } from "./reshape";

/** The changes of a move, or why it cannot be. `along` counts stations that went with a wall;
 * `k` is the number that a held wall has from then on, where a step came before it. */
export type Move = { readonly changes: readonly Change[]; readonly along: number; readonly k?: number } | { readonly refused: string };

export function moveOf(state: State, held: Held, by: Point, squarely: boolean): Move {
  const fields = all(state, held.kind).get(held.of);
  if (!fields) return { refused: "This is not on the plan any more." };
  const to = (p: Point): Point => tidy([p[0] + by[0], p[1] + by[1]]);
  const one = (changed: Fields): Move => ({ changes: [changeOf(held.kind, held.of, changed)], along: 0 });
  const outline = points(fields, "outline");
  switch (held.what) {
    case "floor": return { changes: floorMoved(state, held.of, fields, to), along: 0 };
    case "corner": return reshaped(state, held.of, movedCorner(outline, held.k, by, squarely));
    case "side": return sideMoved(state, held, outline, by);
    case "door": return one({ vehicle_door: slid(outline, points(fields, "vehicle_door"), to) });
    case "line": return one({ line: points(fields, "line").map(to) });
    case "bend": return one({ line: points(fields, "line").map((p, k) => (k === held.k ? to(p) : p)) });
    default: {
      const at = point(fields, placeField(held.kind));
      return at ? one({ [placeField(held.kind)]: to(at) }) : { refused: "This has no place yet." };
    }
  }
}

/** A corner more in a held wall or at a bend, as a change of the outline or line. */
export function cornerAdded(state: State, held: Held): Move {
  const fields = all(state, held.kind).get(held.of);
  if (held.what === "side") return reshaped(state, held.of, withCorner(points(fields, "outline"), held.k));
  const line = points(fields, "line");
  const [a, b] = [line[held.k], line[held.k + 1]];
  if (held.what !== "bend" || !a || !b || held.kind === "section") return { refused: "Take hold of a wall to put a corner into it." };
  const made = [...line.slice(0, held.k + 1), tidy([(a[0] + b[0]) / 2, (a[1] + b[1]) / 2]), ...line.slice(held.k + 1)];
  return { changes: [changeOf(held.kind, held.of, { line: made })], along: 0 };
}

export function cornerRemoved(state: State, held: Held): Move {
  const fields = all(state, held.kind).get(held.of);
  if (held.what === "corner") return reshaped(state, held.of, withoutCorner(points(fields, "outline"), held.k));
  const line = points(fields, "line").filter((_, k) => k !== held.k);
  if (held.what !== "bend" || line.length < 2) return { refused: "A line has two ends; take hold of one in between." };
  return { changes: [changeOf(held.kind, held.of, { line })], along: 0 };
}

/** The state as it would be with changes made: for showing a move while it goes on. */
export function withChanges(state: State, changes: readonly Change[]): State {
  const made = new Map(state);
  for (const { kind, of = "", fields } of changes) {
    const list = new Map(made.get(kind) ?? []);
    list.set(of, { ...list.get(of), ...(fields as Fields) });
    made.set(kind, list);
  }
  return made;
}

function sideMoved(state: State, { of, k }: Held, outline: readonly Point[], by: Point): Move {
  const after = movedSide(outline, k, by);
  const move = reshaped(state, of, after);
  const [a, same] = [outline[k] as Point, after[k] as Point];
  const stepped = after.length > outline.length && a[0] === same[0] && a[1] === same[1];
  return "changes" in move && stepped ? { ...move, k: k + 1 } : move;
}

/** A floor of another form: its door stays in its wall, and no station is left outside. */
function reshaped(state: State, of: string, after: readonly Point[]): Move {
  const fields = all(state, "area").get(of);
  const before = points(fields, "outline");
  const refused = wrong(after, before);
  if (refused) return { refused };
  const door = points(fields, "vehicle_door");
  const kept: Change[] = [...all(state, "station")].flatMap(([station, its]) => {
    const at = text(its, "area") === of ? point(its, "at") : null;
    if (!at || inside(after, at) || fromOutline(after, at) <= Math.max(fromOutline(before, at), 1e-6)) return [];
    return [{ kind: "station", of: station, fields: { at: broughtIn(at, before, after) } }];
  });
  const shape = { outline: after, ...(door.length === 2 ? { vehicle_door: pair(movedDoor(door, before, after)) } : {}) };
  return { changes: [{ kind: "area", of, fields: shape }, ...kept], along: kept.length };
}

/** As far from its wall as before, where that is on the new floor; else at its edge. */
function broughtIn(at: Point, before: readonly Point[], after: readonly Point[]): Point {
  const k = nearestSide(after, at);
  const edge = onLeg(after[k] as Point, after[(k + 1) % after.length] as Point, at);
  const off = Math.min(fromOutline(before, at), 2);
  const away = Math.hypot(edge[0] - at[0], edge[1] - at[1]) || 1;
  const within = tidy([edge[0] + ((edge[0] - at[0]) / away) * off, edge[1] + ((edge[1] - at[1]) / away) * off]);
  return inside(after, within) ? within : tidy(edge);
}

function slid(outline: readonly Point[], door: readonly Point[], to: (p: Point) => Point): Point[] {
  const [a, b] = door as [Point, Point];
  const middle: Point = [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2];
  return onSide(outline, nearestSide(outline, middle), to(middle), Math.hypot(b[0] - a[0], b[1] - a[1]));
}

/** A floor with its door, holes and stations, and with the marks, signs and lines inside it. */
function floorMoved(state: State, of: string, fields: Fields, to: (p: Point) => Point): Change[] {
  const outline = points(fields, "outline");
  const within = (its: readonly Point[]): boolean => its.length > 0 && its.every((p) => inside(outline, p) || fromOutline(outline, p) < 1e-6);
  const [door, holes] = [points(fields, "vehicle_door"), rings(fields, "holes")];
  const shape = {
    outline: outline.map(to),
    ...(door.length ? { vehicle_door: pair(door.map(to)) } : {}),
    ...(holes.length ? { holes: holes.map((hole) => hole.map(to)) } : {}),
  };
  const placed = (["station", "mark", "distress"] as const).flatMap((kind) => [...all(state, kind)].flatMap(([id, its]): Change[] => {
    const at = point(its, "at");
    const belongs = at && (kind === "station" ? text(its, "area") === of : within([at]));
    return at && belongs ? [{ kind, of: id, fields: { at: to(at) } }] : [];
  }));
  const lines = (["wall", "section", "distress"] as const).flatMap((kind) => [...all(state, kind)].flatMap(([id, its]): Change[] => {
    const line = points(its, "line");
    return within(line) ? [changeOf(kind, id, { line: line.map(to) })] : [];
  }));
  return [{ kind: "area", of, fields: shape }, ...placed, ...lines];
}

function tidy([x, y]: Point): Point {
  return [Math.round(x * 1000) / 1000, Math.round(y * 1000) / 1000];
}
