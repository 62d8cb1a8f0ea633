/** An outline typed as wall runs, and its closing error. */

import type { Point } from "./fields";

export interface Run {
  /** Degrees counter-clockwise from the right of the sheet. */
  readonly degrees: number;
  readonly length: number;
}

export interface Closing {
  readonly dx: number;
  readonly dy: number;
  readonly size: number;
  readonly around: number;
}

export function corners(runs: readonly Run[], start: Point): Point[] {
  const found: Point[] = [start];
  let [x, y] = start;
  for (const run of runs) {
    x = tidy(x + run.length * Math.cos((run.degrees * Math.PI) / 180));
    y = tidy(y + run.length * Math.sin((run.degrees * Math.PI) / 180));
    found.push([x, y]);
  }
  return found;
}

/** How far the last corner lies from the first. */
export function closing(runs: readonly Run[], start: Point = [0, 0]): Closing {
  const last = corners(runs, start).at(-1) as Point;
  const [dx, dy] = [tidy(last[0] - start[0]), tidy(last[1] - start[1])];
  const around = runs.reduce((sum, run) => sum + run.length, 0);
  return { dx, dy, size: Math.hypot(dx, dy), around };
}

/** The corners with the closing error spread over the runs in proportion to their lengths.
 * Source: the compass rule of traverse adjustment (N. Bowditch 1808). */
export function spread(runs: readonly Run[], start: Point): Point[] {
  const { dx, dy, around } = closing(runs, start);
  let gone = 0;
  return corners(runs, start)
    .slice(0, -1)
    .map(([x, y], k) => {
      if (k > 0) gone += (runs[k - 1] as Run).length;
      return [tidy(x - (dx * gone) / around), tidy(y - (dy * gone) / around)];
    });
}

/** The corners of an outline whose last wall leads straight back to the start. */
export function closed(runs: readonly Run[], start: Point): Point[] {
  const found = corners(runs, start);
  const last = found.at(-1) as Point;
  return Math.hypot(last[0] - start[0], last[1] - start[1]) < 1e-6 ? found.slice(0, -1) : found;
}

function tidy(value: number): number {
  return Math.round(value * 1e6) / 1e6;
}
