/** The rule of the record gives what the server's gives, for every drawn case. */
import { readFileSync } from "node:fs";
import { describe, expect, test } from "vitest";

import { addUp, type Entry, type Fields } from "../src/record";

interface Case {
  readonly entries: readonly Entry[];
  readonly adds_up_to: readonly (readonly [string, string, Fields])[];
}

const path = new URL("../../tests/vectors/record.json", import.meta.url);
const { cases } = JSON.parse(readFileSync(path, "utf-8")) as { cases: readonly Case[] };

describe("the shared vectors", () => {
  test("are there", () => expect(cases.length).toBeGreaterThan(50));
  test.each(cases.map((each, k) => [k, each] as const))("case %i", (_, each) => {
    const found: Record<string, [string, Fields][]> = {};
    for (const [kind, things] of addUp(each.entries)) found[kind] = [...things];
    const expected: Record<string, [string, Fields][]> = {};
    for (const [kind, of, fields] of each.adds_up_to) (expected[kind] ??= []).push([of, fields]);
    expect(found).toEqual(expected);
  });
});
