/** What is still missing before the house is left. */

import { describe, expect, it } from "vitest";

import { leaving } from "../src/leaving";
import type { Fields, State } from "../src/record";
import { proposal } from "../src/taking";

function state(things: Record<string, Record<string, Fields>>): State {
  return new Map(Object.entries(things).map(([kind, list]) => [kind, new Map(Object.entries(list))]));
}

const BOX = [[0, 0], [40, 0], [40, 24], [0, 24]];
const PLACES = { 1: { at: [1, 1], area: "house" }, 2: { at: [8, 1], area: "house" }, 3: { at: [16, 1], area: "house" } };

/** Readings by station and finish, in order. */
function book(...taken: [string, string][]): State {
  return state({
    area: { house: { kind: "living", outline: BOX } },
    station: PLACES,
    finish: { tile: { name: "Tile" }, oak: { name: "Oak" }, pile: { name: "Carpet" } },
    setup: { A: { instrument: "L1" } },
    reading: Object.fromEntries(taken.map(([station, finish], k) => [`r${k}`, { station, finish, setup: "A", value: "0.1" }])),
  });
}

function open(found: State): string[] {
  return leaving(found, null, "ft", 0).filter((row) => !row.good).map((row) => row.key);
}

describe("finishes", () => {
  it("wants a pair where a floor has two finishes, and is content with one", () => {
    expect(open(book(["1", "tile"], ["2", "oak"]))).toContain("pairs house");
    expect(open(book(["1", "tile"], ["2", "oak"], ["2", "tile"]))).not.toContain("pairs house");
    expect(open(book(["1", "tile"], ["2", "tile"]))).not.toContain("pairs house");
  });

  it("takes a chain of pairs, and names what is not in it", () => {
    const chain: [string, string][] = [["1", "tile"], ["1", "oak"], ["2", "oak"], ["2", "pile"], ["3", "pile"]];
    expect(open(book(...chain))).not.toContain("pairs house");
    const row = leaving(book(...chain.slice(0, 3), ["3", "pile"]), null, "ft", 0).find(({ key }) => key === "pairs house");
    expect(row?.words).toContain("Carpet");
  });
});

describe("the closing check", () => {
  it("is missing until a station of the setup is read again late", () => {
    expect(open(book(["1", "tile"], ["2", "tile"], ["3", "tile"]))).toContain("closing A");
    expect(open(book(["1", "tile"], ["2", "tile"], ["3", "tile"], ["1", "tile"]))).not.toContain("closing A");
  });
});

describe("the next place", () => {
  it("is never in a court that the floor runs round", () => {
    const court = [[10, 6], [30, 6], [30, 18], [10, 18]];
    const bare = state({ area: { house: { kind: "living", outline: BOX, holes: [court] } }, station: {}, reading: {} });
    const stations: Record<string, Fields> = {};
    for (let k = 0; k < 60; k += 1) {
      const next = proposal(new Map([...bare, ["station", new Map(Object.entries(stations))]]), null, "ft");
      if (!next || !("at" in next)) break;
      const [x, y] = next.at;
      expect(x > 10 && x < 30 && y > 6 && y < 18).toBe(false);
      stations[`s${k}`] = { at: [x, y], area: "house" };
    }
    expect(Object.keys(stations).length).toBeGreaterThan(12);
  });
});
