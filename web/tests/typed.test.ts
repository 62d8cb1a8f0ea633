/** What is typed, spoken and walked. */
import { describe, expect, test } from "vitest";

import type { Point } from "../src/fields";
import { crosses, distance, fromOutline, inset, inside, turning } from "../src/geometry";
import { lengthOf, lengthText } from "../src/lengths";
import { closed, closing, spread } from "../src/runs";
import { nextPlace, SPACING, walk } from "../src/walk";
import { flip, numberOf, readingOf } from "../src/written";

describe("readings", () => {
  test.each([
    ["6", "tenths", "0.6"], ["12", "tenths", "1.2"], ["-6", "tenths", "-0.6"], ["0", "tenths", "0.0"], ["-0", "tenths", "0.0"],
    ["1.25", "tenths", "1.25"], ["minus 0.6", "decimal", "-0.6"], ["− 5/8", "fraction", "-5/8"], ["-1 3/8", "fraction", "-1 3/8"],
    [".5", "decimal", "0.5"], ["0,6", "decimal", "0.6"], ["-14", "mm", "-14"], ["2 point 5", "decimal", "2.5"],
  ] as const)("%s as %s is %s", (typed, way, reading) => expect(readingOf(typed, way)).toBe(reading));
  test.each([
    ["minus zero point six", "tenths", "-0.6"], ["zero point six", "decimal", "0.6"], ["point six", "tenths", "0.6"], ["six tenths", "decimal", "0.6"],
    ["negative one point two five", "decimal", "-1.25"], ["one point twenty-five", "decimal", "1.25"], ["five eighths", "fraction", "5/8"],
    ["minus one and three eighths", "tenths", "-1 3/8"], ["a half", "fraction", "1/2"], ["two and a half inches", "fraction", "2 1/2"],
    ["six", "tenths", "0.6"], ["minus twelve", "mm", "-12"], ["Twenty Two millimetres", "mm", "22"], ["-1⅜", "fraction", "-1 3/8"],
    ["oh point four", "decimal", "0.4"], ["minus 0.6 inches", "decimal", "-0.6"], ["3 and 1/4", "fraction", "3 1/4"],
  ] as const)("said: %s as %s is %s", (typed, way, reading) => expect(readingOf(typed, way)).toBe(reading));
  test.each(["two five", "minus", "point", "eighths of six", "one two three", "six of one", "hello"])("said: %s is none", (typed) => expect(readingOf(typed, "tenths")).toBeNull());
  test.each(["", "-", "abc", "1/0", "1.2.3", "<b>", "=1+1"])("%s is none", (typed) => expect(readingOf(typed, "tenths")).toBeNull());
  test("a fraction has its number", () => expect(numberOf("-1 3/8")).toBe(-1.375));
  test("the sign key goes to and fro", () => expect(flip(flip("12"))).toBe("12"));
});

describe("lengths", () => {
  test.each([["12", 12], ["12.5", 12.5], ["12' 6\"", 12.5], ["12 6", 12.5], ["12ft 6in", 12.5], ["12-6", 12.5], ["6\"", 0.5], ["12' 6 1/2\"", 12 + 6.5 / 12]] as const)(
    "%s is %d ft", (typed, feet) => expect(lengthOf(typed, "ft")).toBeCloseTo(feet, 9));
  test.each(["", "-3", "abc", "0"])("%s is no length", (typed) => expect(lengthOf(typed, "ft")).toBeNull());
  test("metres", () => expect(lengthOf("3,80 m", "m")).toBeCloseTo(3.8, 9));
  test("feet and inches are told", () => expect([lengthText(12.5, "ft"), lengthText(0.25, "ft"), lengthText(7, "ft")]).toEqual(["12 ft 6 in", "3 in", "7 ft"]));
});

describe("runs", () => {
  const runs = [{ degrees: 0, length: 40 }, { degrees: 90, length: 24 }, { degrees: 180, length: 39 }, { degrees: 270, length: 24 }];
  test("the closing error is told", () => expect(closing(runs)).toEqual({ dx: 1, dy: 0, size: 1, around: 127 }));
  test("the compass rule spreads it by length", () => {
    const found = spread(runs, [0, 0]);
    expect(found[1]?.[0]).toBeCloseTo(40 - 40 / 127, 5);
    expect(found[3]?.[0]).toBeCloseTo(1 - 103 / 127, 5);
  });
  test("a straight wall closes three runs", () => expect(closed(runs.slice(0, 3), [0, 0])).toHaveLength(4));
});

describe("outlines", () => {
  const el: Point[] = [[0, 0], [28, 0], [28, 20], [52, 20], [52, 46], [0, 46]];
  test("inside and outside", () => expect([inside(el, [10, 10]), inside(el, [40, 10])]).toEqual([true, false]));
  test("turning", () => expect(turning(el)).toBe(2 * (28 * 20 + 52 * 26)));
  test("a bow tie crosses itself", () => expect(crosses([[0, 0], [2, 2], [2, 0], [0, 2]])).toBe(true));
  test("the inset keeps its distance, and more at an inner corner", () => inset(el, 0.5).forEach((p, k) => {
    expect(inside(el, p)).toBe(true);
    expect(fromOutline(el, p)).toBeCloseTo(k === 2 ? Math.SQRT1_2 : 0.5, 9);
  }));
  test("the walk leaves no gap along the walls and none in the middle", () => {
    const places = walk(el, SPACING.ft);
    for (let x = 0.5; x < 52; x += 1) {
      for (let y = 0.5; y < 46; y += 1) {
        if (inside(el, [x, y])) expect(Math.min(...places.map((p) => distance(p, [x, y])))).toBeLessThan(8);
      }
    }
  });
  test("the next place goes on from the last and skips what is taken", () => {
    const places = walk(el, SPACING.ft);
    const taken: Point[] = [];
    for (let p = nextPlace(places, taken, null, 8); p; p = nextPlace(places, taken, p, 8)) taken.push(p);
    expect(taken.length).toBeGreaterThan(places.length * 0.9);
    expect(taken[0]).toEqual(places[0]);
    expect(taken[1]).toEqual(places[1]);
  });
});
