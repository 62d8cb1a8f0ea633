/** Pointing at the plan by keys: the arrows move a cross, Enter taps there. */

import type { Point } from "../fields";

const WAYS: Record<string, Point> = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };

/** The way that an arrow key points, or null for other keys. */
export function wayOf(key: string): Point | null {
  return WAYS[key] ?? null;
}

/** Where the cross goes: on from `from`, always on whole steps; a tenth of a step when `fine`. */
export function stepped(from: Point, way: Point, step: number, fine: boolean): Point {
  const size = fine ? step / 10 : step;
  const go = (at: number, by: number): number => (by === 0 ? at : tidy(Math.round(at / size + by) * size));
  return [go(from[0], way[0]), go(from[1], way[1])];
}

function tidy(value: number): number {
  return Math.round(value * 1000) / 1000;
}
