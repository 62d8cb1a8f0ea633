/** Moving a wall or a corner of an outline: walls stay parallel to what they were, so right
 * angles stay right. A moved wall slides along its two neighbours. */

import type { Point } from "../fields";
import { crosses, distance, onLeg, turning } from "../geometry";

const LEAST = 0.05;
/** Sine of the angle under which two walls count as one line. */
const PARALLEL = 0.02;

/** Wall `k` moved by the part of `by` that is square to it. Where a neighbour runs on in the same
 * line, a step is put between the two. */
export function movedSide(outline: readonly Point[], k: number, by: Point): Point[] {
  const n = outline.length;
  const [before, a, b, after] = [k + n - 1, k, k + 1, k + 2].map((i) => outline[i % n]) as [Point, Point, Point, Point];
  const shift = square(a, b, by);
  if (Math.hypot(...shift) < 1e-9) return [...outline];
  const [from, to] = [plus(a, shift), plus(b, shift)];
  const [start, end] = [meeting(from, to, before, a), meeting(from, to, b, after)];
  const turned = [...outline.slice(k), ...outline.slice(0, k)].slice(2);
  const made = [...(start ? [start] : [a, from]), ...(end ? [end] : [to, b]), ...turned].map(tidy);
  return [...made.slice(made.length - k), ...made.slice(0, made.length - k)];
}

/** Corner `k` moved; with `squarely`, both its walls move with it and keep their directions. */
export function movedCorner(outline: readonly Point[], k: number, by: Point, squarely: boolean): Point[] {
  const n = outline.length;
  const corner = outline[k] as Point;
  const before = (k + n - 1) % n;
  const straight = meeting(outline[before] as Point, corner, corner, outline[(k + 1) % n] as Point) === null;
  if (!squarely || straight) return outline.map((p, i) => (i === k ? tidy(plus(corner, by)) : p));
  const once = movedSide(outline, k, by);
  return once.length === n ? movedSide(once, before, by) : outline.map((p, i) => (i === k ? tidy(plus(corner, by)) : p));
}

/** The outline with a corner more, in the middle of wall `k`. */
export function withCorner(outline: readonly Point[], k: number): Point[] {
  const [a, b] = [outline[k], outline[(k + 1) % outline.length]] as [Point, Point];
  return [...outline.slice(0, k + 1), tidy([(a[0] + b[0]) / 2, (a[1] + b[1]) / 2]), ...outline.slice(k + 1)];
}

export function withoutCorner(outline: readonly Point[], k: number): Point[] {
  return outline.filter((_, i) => i !== k);
}

/** Why this cannot be an outline, or nothing. */
export function wrong(outline: readonly Point[], before: readonly Point[]): string {
  if (outline.length < 3) return "A floor has three corners or more.";
  if (outline.some((p, k) => distance(p, outline[(k + 1) % outline.length] as Point) < LEAST)) return "That would leave a wall without length.";
  if (crosses(outline) || turning(outline) * turning(before) <= 0) return "That would make two walls cross.";
  return "";
}

/** A door that goes on sitting in its wall when the outline has been changed. */
export function movedDoor(door: readonly Point[], before: readonly Point[], after: readonly Point[]): Point[] {
  const [a, b] = door as [Point, Point];
  const middle: Point = [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2];
  const k = nearestSide(before, middle);
  if (before.length !== after.length) return onSide(after, nearestSide(after, middle), middle, distance(a, b));
  const [from, to] = [before[k], after[k]] as [Point, Point];
  const [end] = [before[(k + 1) % before.length]] as [Point];
  const shift = square(from, end, [to[0] - from[0], to[1] - from[1]]);
  return onSide(after, k, plus(middle, shift), distance(a, b));
}

/** A door of this width in wall `k`, as near to `middle` as the wall allows. */
export function onSide(outline: readonly Point[], k: number, middle: Point, width: number): Point[] {
  const [a, b] = [outline[k], outline[(k + 1) % outline.length]] as [Point, Point];
  const whole = distance(a, b);
  const half = Math.min(width, whole) / 2;
  const at = onLeg(a, b, middle);
  const far = Math.min(whole - half, Math.max(half, distance(a, at)));
  const along = (d: number): Point => tidy([a[0] + ((b[0] - a[0]) * d) / whole, a[1] + ((b[1] - a[1]) * d) / whole]);
  return [along(far - half), along(far + half)];
}

export function nearestSide(outline: readonly Point[], p: Point): number {
  let best = 0;
  let far = Infinity;
  outline.forEach((a, k) => {
    const away = distance(p, onLeg(a, outline[(k + 1) % outline.length] as Point, p));
    if (away < far - 1e-9) [best, far] = [k, away];
  });
  return best;
}

/** The part of `by` that is square to the line from `a` to `b`. */
export function square(a: Point, b: Point, by: Point): Point {
  const size = distance(a, b) || 1;
  const across: Point = [-(b[1] - a[1]) / size, (b[0] - a[0]) / size];
  const much = by[0] * across[0] + by[1] * across[1];
  return [across[0] * much, across[1] * much];
}

/** Where the lines through `a`, `b` and through `c`, `d` meet; null where they run side by side. */
function meeting(a: Point, b: Point, c: Point, d: Point): Point | null {
  const [ux, uy, vx, vy] = [b[0] - a[0], b[1] - a[1], d[0] - c[0], d[1] - c[1]];
  const turn = ux * vy - uy * vx;
  if (Math.abs(turn) < PARALLEL * Math.hypot(ux, uy) * Math.hypot(vx, vy)) return null;
  const t = ((c[0] - a[0]) * vy - (c[1] - a[1]) * vx) / turn;
  return [a[0] + t * ux, a[1] + t * uy];
}

function plus(a: Point, b: Point): Point {
  return [a[0] + b[0], a[1] + b[1]];
}

function tidy([x, y]: Point): Point {
  return [Math.round(x * 1e4) / 1e4, Math.round(y * 1e4) / 1e4];
}
