/** The plan's own geometry: moving walls and corners, joining floors, laying a sheet under it. */

import { describe, expect, it } from "vitest";

import type { Point } from "../src/fields";
import { turning } from "../src/geometry";
import { holdAt, type Held } from "../src/plan/holding";
import { joined, type Shape } from "../src/plan/joining";
import { cornerAdded, cornerRemoved, moveOf, withChanges } from "../src/plan/moving";
import { levelled, matrix, scaled, shifted, toPlan, turnedBy, type Placed } from "../src/plan/placed";
import { stepped } from "../src/plan/pointing";
import { movedCorner, movedDoor, movedSide, withCorner } from "../src/plan/reshape";
import type { Fields, State } from "../src/record";

const BOX: Point[] = [[0, 0], [40, 0], [40, 24], [0, 24]];
const ELL: Point[] = [[0, 0], [40, 0], [40, 24], [20, 24], [20, 36], [0, 36]];

function rightAngles(outline: readonly Point[]): boolean {
  return outline.every((p, k) => {
    const q = outline[(k + 1) % outline.length] as Point;
    return Math.abs(p[0] - q[0]) < 1e-6 || Math.abs(p[1] - q[1]) < 1e-6;
  });
}

function area(outline: readonly Point[]): number {
  return turning(outline) / 2;
}

describe("moving walls and corners", () => {
  it("moves a wall along its neighbours and nothing else", () => {
    expect(movedSide(BOX, 1, [3, 7])).toEqual([[0, 0], [43, 0], [43, 24], [0, 24]]);
    expect(movedSide(BOX, 3, [-2, 0])).toEqual([[-2, 0], [40, 0], [40, 24], [-2, 24]]);
  });

  it("keeps right angles for every wall and corner of an L, whatever the move", () => {
    for (let k = 0; k < ELL.length; k += 1) {
      for (const by of [[1.5, -2], [-0.75, 0.5], [2, 2]] as Point[]) {
        expect(rightAngles(movedSide(ELL, k, by))).toBe(true);
        const moved = movedCorner(ELL, k, by, true);
        expect(rightAngles(moved)).toBe(true);
        const [x, y] = ELL[k] as Point;
        expect(moved[k]).toEqual([x + by[0], y + by[1]]);
      }
    }
  });

  it("keeps walls parallel where they are not level", () => {
    const slanted: Point[] = [[0, 0], [10, 0], [14, 8], [0, 8]];
    const moved = movedSide(slanted, 1, [2, 0]);
    const [b, c] = [moved[1], moved[2]] as [Point, Point];
    expect((c[1] - b[1]) / (c[0] - b[0])).toBeCloseTo(2, 3);
    expect(b[1]).toBe(0);
    expect(c[1]).toBe(8);
  });

  it("puts a step into a straight wall when a part of it is moved", () => {
    const more = withCorner(BOX, 0);
    const moved = movedSide(more, 1, [0, -6]);
    expect(moved).toHaveLength(6);
    expect(rightAngles(moved)).toBe(true);
    expect(area(moved)).toBeCloseTo(40 * 24 + 20 * 6, 6);
  });

  it("leaves a door in its wall, as wide as it was or as the wall is", () => {
    const door: Point[] = [[40, 4], [40, 20]];
    expect(movedDoor(door, BOX, movedSide(BOX, 1, [3, 0]))).toEqual([[43, 4], [43, 20]]);
    expect(movedDoor(door, BOX, movedSide(BOX, 2, [0, -12]))).toEqual([[40, 0], [40, 12]]);
  });
});

function state(things: Record<string, Record<string, Fields>>): State {
  return new Map(Object.entries(things).map(([kind, list]) => [kind, new Map(Object.entries(list))]));
}

const HOUSE = state({
  area: { house: { kind: "living", outline: BOX.map((p) => [...p]) }, garage: { kind: "garage", outline: [[41, 0], [61, 0], [61, 20], [41, 20]], vehicle_door: [[43, 0], [59, 0]] } },
  station: { 1: { at: [39.5, 12], area: "house" }, 2: { at: [3, 3], area: "house" } },
  mark: { tree: { kind: "tree", at: [-10, 5] }, tap: { kind: "drain", at: [50, 10] } },
  setup: { A: { instrument: "L1", base: [20, 12] } },
  wall: { w1: { line: [[10, 0], [10, 12], [20, 12]] } },
  section: { s1: { line: [[0, 4], [40, 4]] } },
  reading: { r1: { station: "1", setup: "A", finish: "tile", value: "0.6" } },
});

describe("taking hold", () => {
  const near = 0.8;
  it.each([
    [[40.3, 0.2], { what: "corner", kind: "area", of: "house", k: 1 }],
    [[30, 24.3], { what: "side", kind: "area", of: "house", k: 2 }],
    [[51, 0.1], { what: "door", kind: "area", of: "garage", k: 0 }],
    [[20.2, 12.3], { what: "place", kind: "setup", of: "A", k: 0 }],
    [[10.1, 6], { what: "line", kind: "wall", of: "w1", k: 0 }],
    [[10.2, 12], { what: "bend", kind: "wall", of: "w1", k: 1 }],
    [[3.1, 3], { what: "place", kind: "station", of: "2", k: 0 }],
    [[20, 20], { what: "floor", kind: "area", of: "house", k: 0 }],
    [[80, 80], null],
  ] as [Point, Held | null][])("finds what is meant at %j", (at, expected) => {
    expect(holdAt(HOUSE, at, near)).toEqual(expected);
  });

  it("takes a station in with its wall, so that no reading is left outside", () => {
    const move = moveOf(HOUSE, { what: "side", kind: "area", of: "house", k: 1 }, [-4, 0], true);
    if ("refused" in move) throw new Error(move.refused);
    expect(move.along).toBe(1);
    const after = withChanges(HOUSE, move.changes);
    expect(after.get("station")?.get("1")?.["at"]).toEqual([35.5, 12]);
    expect(after.get("station")?.get("2")?.["at"]).toEqual([3, 3]);
    expect(after.get("reading")).toBe(HOUSE.get("reading"));
  });

  it("moves a floor with what is in it and leaves the rest", () => {
    const move = moveOf(HOUSE, { what: "floor", kind: "area", of: "garage", k: 0 }, [2, 1], true);
    if ("refused" in move) throw new Error(move.refused);
    const after = withChanges(HOUSE, move.changes);
    expect(after.get("area")?.get("garage")?.["vehicle_door"]).toEqual([[45, 1], [61, 1]]);
    expect(after.get("mark")?.get("tap")?.["at"]).toEqual([52, 11]);
    expect(after.get("mark")?.get("tree")?.["at"]).toEqual([-10, 5]);
    expect(after.get("section")).toBe(HOUSE.get("section"));
  });

  it("refuses what would be no floor, and tells why", () => {
    const side: Held = { what: "side", kind: "area", of: "house", k: 1 };
    expect(moveOf(HOUSE, side, [-40, 0], true)).toEqual({ refused: "That would leave a wall without length." });
    expect(moveOf(HOUSE, side, [-50, 0], true)).toEqual({ refused: "That would make two walls cross." });
  });

  it("adds and removes corners, and the door slides no farther than its wall", () => {
    const added = cornerAdded(HOUSE, { what: "side", kind: "area", of: "house", k: 0 });
    expect("changes" in added && added.changes[0]?.fields["outline"]).toEqual([[0, 0], [20, 0], [40, 0], [40, 24], [0, 24]]);
    const removed = cornerRemoved(HOUSE, { what: "corner", kind: "area", of: "house", k: 3 });
    expect("changes" in removed && removed.changes[0]?.fields["outline"]).toEqual([[0, 0], [40, 0], [40, 24]]);
    const slid = moveOf(HOUSE, { what: "door", kind: "area", of: "garage", k: 0 }, [9, 5], true);
    expect("changes" in slid && slid.changes[0]?.fields["vehicle_door"]).toEqual([[45, 0], [61, 0]]);
  });
});

function shape(...outline: Point[]): Shape {
  return { outline, holes: [] };
}
const box = (x: number, y: number, w: number, h: number): Shape => shape([x, y], [x + w, y], [x + w, y + h], [x, y + h]);

describe("joining floors", () => {
  it.each([
    ["overlapping", [box(0, 0, 40, 24), box(20, 10, 30, 30)], 40 * 24 + 30 * 30 - 20 * 14, 8],
    ["side by side", [box(0, 0, 40, 24), box(40, 0, 10, 24)], 50 * 24, 4],
    ["three in an L", [box(0, 0, 20, 20), box(20, 0, 20, 20), box(0, 20, 20, 10)], 1000, 6],
    ["a hair apart", [box(0, 0, 40, 24), box(40.03, 4, 10, 10)], 40 * 24 + 100, 8],
    ["in whatever sense they run", [{ outline: [...box(0, 0, 10, 10).outline].reverse(), holes: [] }, box(5, 5, 10, 10)], 175, 8],
  ] as [string, Shape[], number, number][])("makes one of floors %s", (_, floors, size, corners) => {
    const found = joined(floors, 0.05);
    if ("refused" in found) throw new Error(found.refused);
    expect(area(found.outline)).toBeCloseTo(size, 0);
    expect(found.outline).toHaveLength(corners);
    expect(found.holes).toEqual([]);
  });

  it("keeps a court open as a hole", () => {
    const found = joined([box(0, 0, 30, 10), box(0, 20, 30, 10), box(0, 10, 10, 10), box(20, 10, 10, 10)], 0.05);
    if ("refused" in found) throw new Error(found.refused);
    expect(area(found.outline)).toBe(900);
    expect(found.holes).toHaveLength(1);
    expect(area(found.holes[0] as Point[])).toBe(-100);
  });

  it("refuses floors that touch at a corner only, or not at all, in words", () => {
    expect(joined([box(0, 0, 10, 10), box(10, 10, 10, 10)], 0.05)).toEqual({ refused: expect.stringContaining("at a corner only") });
    expect(joined([box(0, 0, 10, 10), box(12, 0, 10, 10)], 0.05)).toEqual({ refused: expect.stringContaining("do not touch") });
    const ring = [box(0, 0, 10, 10), box(10, 0, 10, 5), box(15, 5, 5, 10), box(10, 10, 10, 5)];
    expect(joined(ring, 0.05)).toEqual({ refused: expect.stringContaining("at a corner only") });
  });
});

describe("a sheet under the plan", () => {
  const sheet: Placed = { at: [30, 20], size: [600, 400], per: 0.1, turned: 0 };

  it("puts each dot where it belongs, on the plan and on the screen alike", () => {
    expect(toPlan(sheet, [0, 0])).toEqual([0, 40]);
    expect(toPlan(sheet, [600, 400])).toEqual([60, 0]);
    for (const turned of [0, 17, 90, 203]) {
      const placed = { ...sheet, turned };
      const [a, b, c, d, e, f] = matrix(placed, [12, 9], 0.2, [390, 300]) as [number, number, number, number, number, number];
      for (const [x, y] of [[0, 0], [600, 0], [130, 377]] as Point[]) {
        const at = toPlan(placed, [x, y]);
        expect(a * x + c * y + e).toBeCloseTo((at[0] - 12) / 0.2 + 195, 6);
        expect(b * x + d * y + f).toBeCloseTo((9 - at[1]) / 0.2 + 150, 6);
      }
    }
  });

  it("is scaled by two taps and a length, the first tap staying", () => {
    const found = scaled(sheet, [10, 10], [30, 10], 40) as Placed;
    expect(found.per).toBeCloseTo(0.2);
    expect(found.at).toEqual([50, 30]);
    expect(scaled(sheet, [1, 1], [1, 1], 5)).toBeNull();
  });

  it("is levelled by two taps on a wall, level or upright whichever is nearer", () => {
    const slanted = turnedBy(sheet, 7);
    const [a, b] = [toPlan(slanted, [100, 300]), toPlan(slanted, [500, 300])];
    const found = levelled(slanted, a, b) as Placed;
    expect(found.turned % 360).toBeCloseTo(0, 6);
    const [c, d] = [toPlan(slanted, [100, 300]), toPlan(slanted, [100, 50])];
    expect((levelled(slanted, c, d) as Placed).turned % 360).toBeCloseTo(0, 6);
    expect(levelled(sheet, [1, 1], [1, 1])).toBeNull();
  });

  it("is shifted by two taps", () => {
    expect(shifted(sheet, [1, 1], [4, -1]).at).toEqual([33, 18]);
  });
});

describe("pointing by keys", () => {
  it("goes on whole steps, and on tenths when fine", () => {
    expect(stepped([0.3, 4], [1, 0], 1, false)).toEqual([1, 4]);
    expect(stepped([3, 4], [0, -1], 0.25, false)).toEqual([3, 3.75]);
    expect(stepped([3, 4], [-1, 0], 1, true)).toEqual([2.9, 4]);
  });
});
