/** Taking hold of what is on the plan: which thing is meant, and how it is told and drawn. */

import { all, point, points, text, type Point } from "../fields";
import { distance, inside, onLeg } from "../geometry";
import type { Fields, State } from "../record";

/** What is held: a whole floor, a corner or side or the door of it, a line, a bend of it, a place. */
export interface Held {
  readonly what: "floor" | "corner" | "side" | "door" | "line" | "bend" | "place";
  /** Kind and id of the thing that is written down. */
  readonly kind: string;
  readonly of: string;
  /** Which corner, side or bend; 0 for the rest. */
  readonly k: number;
}

const LINES = ["wall", "section", "distress"] as const;
const PLACES = [["setup", "base"], ["mark", "at"], ["distress", "at"], ["station", "at"]] as const;
const NAMES: Record<string, string> = { wall: "inner wall", setup: "base of setup", distress: "sign", mark: "mark", station: "station", section: "section" };

/** The field that tells where a thing of one place is. */
export function placeField(kind: string): string {
  return kind === "setup" ? "base" : "at";
}

/** What is meant by pointing at a place: a dot before a line, a line before a floor. */
export function holdAt(state: State, at: Point, near: number): Held | null {
  return nearest(dots(state), at, near) ?? nearest(lines(state), at, near * 0.7) ?? floorAt(state, at);
}

interface Candidate {
  readonly held: Held;
  readonly far: (at: Point) => number;
}

function nearest(among: readonly Candidate[], at: Point, near: number): Held | null {
  let best: Held | null = null;
  let least = near;
  for (const { held, far } of among) {
    const away = far(at);
    if (away < least) [best, least] = [held, away];
  }
  return best;
}

function dots(state: State): Candidate[] {
  const dot = (held: Held, p: Point): Candidate => ({ held, far: (at) => distance(at, p) });
  const corners = floors(state).flatMap(([of, fields]) => points(fields, "outline").map((p, k) => dot({ what: "corner", kind: "area", of, k }, p)));
  const bends = LINES.flatMap((kind) => [...all(state, kind)].flatMap(([of, fields]) => points(fields, "line").map((p, k) => dot({ what: "bend", kind, of, k }, p))));
  const places = PLACES.flatMap(([kind, name]) => [...all(state, kind)].flatMap(([of, fields]) => {
    const p = point(fields, name);
    return p ? [dot({ what: "place", kind, of, k: 0 }, p)] : [];
  }));
  return [...places, ...corners, ...bends];
}

function lines(state: State): Candidate[] {
  const leg = (held: Held, a: Point, b: Point): Candidate => ({ held, far: (at) => distance(at, onLeg(a, b, at)) });
  const doors = floors(state).flatMap(([of, fields]) => {
    const [a, b] = points(fields, "vehicle_door");
    return a && b ? [leg({ what: "door", kind: "area", of, k: 0 }, a, b)] : [];
  });
  const drawn = LINES.flatMap((kind) => [...all(state, kind)].flatMap(([of, fields]) =>
    points(fields, "line").slice(1).map((b, k) => leg({ what: "line", kind, of, k: 0 }, points(fields, "line")[k] as Point, b))));
  const sides = floors(state).flatMap(([of, fields]) => {
    const outline = points(fields, "outline");
    return outline.map((a, k) => leg({ what: "side", kind: "area", of, k }, a, outline[(k + 1) % outline.length] as Point));
  });
  return [...doors, ...drawn, ...sides];
}

function floorAt(state: State, at: Point): Held | null {
  const found = floors(state).find(([, fields]) => inside(points(fields, "outline"), at));
  return found ? { what: "floor", kind: "area", of: found[0], k: 0 } : null;
}

function floors(state: State): [string, Fields][] {
  return [...all(state, "area")].filter(([, fields]) => points(fields, "outline").length > 2);
}

/** The points to draw for what is held. */
export function heldPoints(state: State, { what, kind, of, k }: Held): readonly Point[] {
  const fields = all(state, kind).get(of);
  const outline = points(fields, "outline");
  if (what === "floor") return outline.length ? [...outline, outline[0] as Point] : [];
  if (what === "corner") return outline.slice(k, k + 1);
  if (what === "side") return outline.length ? [outline[k] as Point, outline[(k + 1) % outline.length] as Point] : [];
  if (what === "door") return points(fields, "vehicle_door");
  if (what === "line") return points(fields, "line");
  if (what === "bend") return points(fields, "line").slice(k, k + 1);
  const at = point(fields, placeField(kind));
  return at ? [at] : [];
}

/** What is held, in words. */
export function heldWords(state: State, { what, kind, of, k }: Held): string {
  if (what === "floor") return `The floor ${of}, with all that is in it`;
  if (what === "corner") return `Corner ${k + 1} of ${of}`;
  if (what === "side") return `Wall ${k + 1} of ${of}`;
  if (what === "door") return `The door of ${of}`;
  const name = NAMES[kind] ?? kind;
  if (kind === "mark") return text(all(state, kind).get(of), "label") || text(all(state, kind).get(of), "kind").replaceAll("-", " ");
  if (what === "bend") return `End or bend ${k + 1} of the ${name} ${of}`;
  return `${what === "line" ? "The whole " : "The "}${name} ${of}`;
}
