/** Words of the list on the device: the same rule as the server's. */
import { expect, test } from "vitest";

import { hasWords } from "../src/words";

test.each([
  ["12 Oakley Court 2026-05-14", "oak 12", true],
  ["12 Oakley Court", "ley", false],
  ["Élm Lane", "ELM", true],
  ["O'Brien", "brien o", true],
  ["Willow house", "", true],
  ["Willow house", " -- ", true],
  ["", "a", false],
])("%s has %s: %s", (text, asked, has) => {
  expect(hasWords(text, asked)).toBe(has);
});
