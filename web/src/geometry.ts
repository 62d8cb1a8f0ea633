/** Plane geometry of outlines. */

import type { Point } from "./fields";

export function distance(a: Point, b: Point): number {
  return Math.hypot(a[0] - b[0], a[1] - b[1]);
}

/** Twice the signed area; positive where the corners run counter-clockwise. */
export function turning(outline: readonly Point[]): number {
  return outline.reduce((sum, a, k) => {
    const b = outline[(k + 1) % outline.length] as Point;
    return sum + a[0] * b[1] - b[0] * a[1];
  }, 0);
}

export function inside(outline: readonly Point[], [x, y]: Point): boolean {
  let within = false;
  outline.forEach((a, k) => {
    const b = outline[(k + 1) % outline.length] as Point;
    if (a[1] > y !== b[1] > y && x < a[0] + ((y - a[1]) / (b[1] - a[1])) * (b[0] - a[0])) within = !within;
  });
  return within;
}

/** The point of a leg nearest to `p`. */
export function onLeg(a: Point, b: Point, p: Point): Point {
  const [dx, dy] = [b[0] - a[0], b[1] - a[1]];
  const square = dx * dx + dy * dy;
  const t = square === 0 ? 0 : Math.min(1, Math.max(0, ((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / square));
  return [a[0] + t * dx, a[1] + t * dy];
}

/** How far `p` is from an outline. */
export function fromOutline(outline: readonly Point[], p: Point): number {
  return Math.min(...outline.map((a, k) => distance(p, onLeg(a, outline[(k + 1) % outline.length] as Point, p))));
}

/** The outline moved inwards by `by`: each corner to where its two moved walls meet. */
export function inset(outline: readonly Point[], by: number): Point[] {
  const n = outline.length;
  const sense = turning(outline) > 0 ? 1 : -1;
  return outline.map((corner, k) => {
    const before = unit(outline[(k + n - 1) % n] as Point, corner);
    const after = unit(corner, outline[(k + 1) % n] as Point);
    const bend = 1 + before[0] * after[0] + before[1] * after[1];
    const [nx, ny] = [-(before[1] + after[1]) * sense, (before[0] + after[0]) * sense];
    const reach = bend > 0.2 ? by / bend : by;
    return [corner[0] + nx * reach, corner[1] + ny * reach];
  });
}

function unit(a: Point, b: Point): Point {
  const size = distance(a, b) || 1;
  return [(b[0] - a[0]) / size, (b[1] - a[1]) / size];
}

/** Whether any two walls of the outline cross. */
export function crosses(outline: readonly Point[]): boolean {
  const n = outline.length;
  for (let i = 0; i < n; i += 1) {
    for (let k = i + 2; k < n; k += 1) {
      if (i === 0 && k === n - 1) continue;
      const [a, b, c, d] = [outline[i], outline[(i + 1) % n], outline[k], outline[(k + 1) % n]] as [Point, Point, Point, Point];
      if (side(a, b, c) * side(a, b, d) < 0 && side(c, d, a) * side(c, d, b) < 0) return true;
    }
  }
  return false;
}

function side(a: Point, b: Point, p: Point): number {
  return Math.sign((b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0]));
}
