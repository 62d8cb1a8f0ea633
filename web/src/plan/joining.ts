/** Several floors made one: their union, where they share more than a corner. */

import { union, type Pair, type Polygon } from "polygon-clipping";

import type { Point } from "../fields";
import { distance, onLeg, turning } from "../geometry";

export interface Shape {
  readonly outline: readonly Point[];
  readonly holes: readonly (readonly Point[])[];
}

export type Joined = Shape | { readonly refused: string };

const CORNER = "These touch at a corner only. One floor needs a wall or some ground in common: move one of them first.";
const APART = "These do not touch. Move one of them to the other first.";

/** The floors as one; gaps and overlaps up to `tolerance` (plan units) are closed. */
export function joined(floors: readonly Shape[], tolerance: number): Joined {
  const [first, ...others] = settled(floors, tolerance).map(polygon);
  if (!first || !others.length) return { refused: "Choose two floors or more." };
  let parts: Pair[][][];
  try {
    parts = union(first, ...others);
  } catch {
    return { refused: "These outlines cannot be joined as they are: move a corner of one of them onto a wall of the other." };
  }
  if (parts.length !== 1) return { refused: touching(parts, tolerance) ? CORNER : APART };
  const [outline, ...holes] = (parts[0] as Pair[][]).map(cleaned);
  const corners = [outline, ...holes].flat().map((p) => `${p?.[0]} ${p?.[1]}`);
  if (new Set(corners).size < corners.length) return { refused: CORNER };
  return { outline: turned(outline ?? [], 1), holes: holes.filter((hole) => Math.abs(turning(hole)) / 2 > tolerance).map((hole) => turned(hole, -1)) };
}

function polygon({ outline, holes }: Shape): Polygon {
  return [outline, ...holes].map((ring) => ring.map(([x, y]): Pair => [x, y]));
}

/** Corners brought onto the corners and walls of the floors before them, where they are near. */
function settled(floors: readonly Shape[], tolerance: number): Shape[] {
  const done: Shape[] = [];
  for (const floor of floors) {
    const rings = done.map((other) => other.outline);
    const outline = floor.outline.map((p) => near(p, rings, tolerance));
    done.push({ ...floor, outline });
    done.slice(0, -1).forEach((other, k) => {
      done[k] = { ...other, outline: other.outline.map((p) => near(p, [outline], tolerance)) };
    });
  }
  return done;
}

function near(p: Point, rings: readonly (readonly Point[])[], tolerance: number): Point {
  const corner = rings.flat().find((q) => distance(p, q) <= tolerance);
  if (corner) return corner;
  const onWall = rings.flatMap((ring) => ring.map((a, k) => onLeg(a, ring[(k + 1) % ring.length] as Point, p)));
  return onWall.find((q) => distance(p, q) <= tolerance) ?? p;
}

function touching(parts: Pair[][][], tolerance: number): boolean {
  const rings = parts.map(([outer]) => outer as Pair[]);
  return rings.some((ring, i) => rings.some((other, k) => k > i && ring.some((p) => other.some((q) => distance(p, q) <= tolerance))));
}

/** Without the repeated end, and without corners in the middle of a straight wall. */
function cleaned(ring: Pair[]): Point[] {
  const open = ring.slice(0, -1).map(([x, y]): Point => [tidy(x), tidy(y)]);
  return open.filter((p, k) => {
    const [a, b] = [open[(k + open.length - 1) % open.length], open[(k + 1) % open.length]] as [Point, Point];
    return distance(p, onLeg(a, b, p)) > 1e-3;
  });
}

function turned(ring: readonly Point[], sense: number): Point[] {
  return turning(ring) * sense > 0 ? [...ring] : [...ring].reverse();
}

function tidy(value: number): number {
  return Math.round(value * 1e4) / 1e4;
}
