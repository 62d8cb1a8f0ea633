/** Where to read next: round the walls at 6 to 8 ft (2 m), corners always, then the middle.
 * The spacing is common practice of the trade, not a rule of any standard. */

import type { Point } from "./fields";
import { distance, fromOutline, inset, inside } from "./geometry";

export interface Spacing {
  /** Farthest between neighbours, plan units. */
  readonly most: number;
  /** From the wall, plan units. */
  readonly off: number;
}

export const SPACING: Record<"ft" | "m", Spacing> = {
  ft: { most: 8, off: 0.5 },
  m: { most: 2.4, off: 0.15 },
};

/** All proposed places of one floor, in walking order. */
export function walk(outline: readonly Point[], { most, off }: Spacing): Point[] {
  const path = inset(outline, off);
  const round = path.flatMap((a, k) => alongWall(a, path[(k + 1) % path.length] as Point, most));
  return [...round, ...middle(outline, most)].map(([x, y]) => [tidy(x), tidy(y)]);
}

/** Evenly from a corner to the next, that one left out. */
function alongWall(a: Point, b: Point, most: number): Point[] {
  const parts = Math.max(1, Math.ceil(distance(a, b) / most - 1e-9));
  return Array.from({ length: parts }, (_, k) => [
    a[0] + ((b[0] - a[0]) * k) / parts,
    a[1] + ((b[1] - a[1]) * k) / parts,
  ]);
}

/** A grid of the inner floor, to and fro, clear of the walls. */
function middle(outline: readonly Point[], most: number): Point[] {
  const xs = outline.map((p) => p[0]);
  const ys = outline.map((p) => p[1]);
  const columns = between(Math.min(...xs), Math.max(...xs), most);
  const rows = between(Math.min(...ys), Math.max(...ys), most);
  return rows.flatMap((y, k) => {
    const row = columns.map((x): Point => [x, y]);
    const good = row.filter((p) => inside(outline, p) && fromOutline(outline, p) > most / 2);
    return k % 2 ? good.reverse() : good;
  });
}

function between(low: number, high: number, most: number): number[] {
  const parts = Math.max(1, Math.ceil((high - low) / most));
  return Array.from({ length: parts - 1 }, (_, k) => low + ((high - low) * (k + 1)) / parts);
}

/** The next place after `last` that no station is near. */
export function nextPlace(places: readonly Point[], taken: readonly Point[], last: Point | null, most: number): Point | null {
  const free = (p: Point): boolean => taken.every((q) => distance(p, q) > most * 0.4);
  const from = last ? nearestIndex(places, last) : 0;
  const ordered = [...places.slice(from), ...places.slice(0, from)];
  return ordered.find(free) ?? null;
}

function nearestIndex(places: readonly Point[], p: Point): number {
  let best = 0;
  places.forEach((q, k) => {
    if (distance(p, q) < distance(p, places[best] as Point) - 1e-9) best = k;
  });
  return best;
}

function tidy(value: number): number {
  return Math.round(value * 100) / 100;
}
