/** Snapping a tap to what a builder would have meant: a corner, a right angle, the grid. */

import type { Point } from "./fields";
import { distance, onLeg } from "./geometry";

export interface Snapping {
  /** Spacing of the grid, plan units; 0 for none. */
  readonly grid: number;
  readonly square: boolean;
  /** Corners that are there already, and how near counts. */
  readonly corners: readonly Point[];
  readonly legs?: readonly (readonly [Point, Point])[];
  readonly near: number;
}

/** Where a tap goes, after the points drawn so far. */
export function snap(tap: Point, before: readonly Point[], how: Snapping): Point {
  const corner = how.corners.find((p) => distance(p, tap) <= how.near);
  if (corner) return corner;
  const last = before.at(-1);
  let at: Point = how.grid ? [toGrid(tap[0], how.grid), toGrid(tap[1], how.grid)] : tap;
  if (last && how.square) {
    const across = Math.abs(at[0] - last[0]) >= Math.abs(at[1] - last[1]);
    at = across ? [at[0], last[1]] : [last[0], at[1]];
  }
  const leg = how.legs?.map(([a, b]) => onLeg(a, b, tap)).find((p) => distance(p, tap) <= how.near);
  return !last && leg ? [tidy(leg[0]), tidy(leg[1])] : at;
}

/** Make the last corner square with the first, so that the closing wall is a right angle too. */
export function squareOff(points: readonly Point[]): Point[] {
  const [first, last, before] = [points[0], points.at(-1), points.at(-2)];
  if (points.length < 4 || !first || !last || !before) return [...points];
  if (last[0] === first[0] || last[1] === first[1]) return [...points];
  const across = last[1] === before[1];
  return [...points.slice(0, -1), across ? [first[0], last[1]] : [last[0], first[1]]];
}

function toGrid(value: number, grid: number): number {
  return tidy(Math.round(value / grid) * grid);
}

function tidy(value: number): number {
  return Math.round(value * 1000) / 1000;
}
