/** How a picture lies under the plan: where, how large, how turned; and mending that by taps. */

import type { Point } from "../fields";
import { distance } from "../geometry";

export interface Placed {
  /** Where the middle of the picture is on the plan. */
  readonly at: Point;
  /** Width and height of the picture in dots. */
  readonly size: Point;
  /** Plan units to one dot. */
  readonly per: number;
  /** Degrees counter-clockwise. */
  readonly turned: number;
}

/** Where a dot of the picture (from its upper left corner, down) is on the plan. */
export function toPlan({ at, size, per, turned }: Placed, [x, y]: Point): Point {
  const [right, up] = [(x - size[0] / 2) * per, (size[1] / 2 - y) * per];
  return around(at, [at[0] + right, at[1] + up], turned);
}

/** So large that two places on it are `length` apart; the first of them stays where it is. */
export function scaled(placed: Placed, a: Point, b: Point, length: number): Placed | null {
  const now = distance(a, b);
  const by = length / now;
  if (!(now > 0) || !Number.isFinite(by) || by <= 0 || by > 1e4 || by < 1e-4) return null;
  return { ...placed, per: placed.per * by, at: [a[0] + (placed.at[0] - a[0]) * by, a[1] + (placed.at[1] - a[1]) * by] };
}

/** Turned about `a` so that the line from `a` to `b` is level, or upright if that is nearer. */
export function levelled(placed: Placed, a: Point, b: Point): Placed | null {
  if (!(distance(a, b) > 0)) return null;
  const slant = (Math.atan2(b[1] - a[1], b[0] - a[0]) * 180) / Math.PI;
  return turnedBy(placed, Math.round(slant / 90) * 90 - slant, a);
}

export function turnedBy(placed: Placed, degrees: number, about: Point = placed.at): Placed {
  return { ...placed, at: around(about, placed.at, degrees), turned: (((placed.turned + degrees) % 360) + 360) % 360 };
}

/** Moved so that what lay at `from` lies at `to`. */
export function shifted(placed: Placed, from: Point, to: Point): Placed {
  return { ...placed, at: [placed.at[0] + to[0] - from[0], placed.at[1] + to[1] - from[1]] };
}

/** The CSS matrix that puts the picture's dots on a screen: middle of the view, plan units to a pixel. */
export function matrix({ at, size, per, turned }: Placed, middle: Point, resolution: number, screen: Point): number[] {
  const angle = (turned * Math.PI) / 180;
  const [along, across] = [(per / resolution) * Math.cos(angle), (per / resolution) * Math.sin(angle)];
  const x = (at[0] - middle[0]) / resolution + screen[0] / 2;
  const y = (middle[1] - at[1]) / resolution + screen[1] / 2;
  const left = x - (along * size[0] + across * size[1]) / 2;
  const top = y - (along * size[1] - across * size[0]) / 2;
  return [along, -across, across, along, left, top];
}

function around(about: Point, p: Point, degrees: number): Point {
  const angle = (degrees * Math.PI) / 180;
  const [dx, dy] = [p[0] - about[0], p[1] - about[1]];
  return [about[0] + dx * Math.cos(angle) - dy * Math.sin(angle), about[1] + dx * Math.sin(angle) + dy * Math.cos(angle)];
}
