/** The word on a new password while it is typed. */
import { expect, test } from "vitest";

import { strengthOf } from "../src/firm/strength";

const ABOUT = ["ann.field@alder-ridge.example", "Ann Field", "Alder Ridge Levels"];
const level = (text: string): number => strengthOf(text, ABOUT).level;

test.each([["", 0], ["short one", 0], ["elevensigns", 0], ["🦩🦩🦩", 0]])("%s is too short", (text, found) => {
  expect(level(text)).toBe(found);
});

test.each(["aaaaaaaaaaaa", "abcabcabcabc", "abcdefghijklmnop", "123456789012", "qwertyuiopasdf", "password1234", "P@ssw0rdP@ssw0rd", "letmeinletmein1", "FIELD of golden corn", "my @lder is tall", "ａｌｄｅｒ trees are green"])("%s is weak", (text) => {
  expect(level(text)).toBe(1);
});

test.each(["seven grey herons walking", "a lantern under nine apples", "grüne Katze läuft schnell", "vT9#kq!Lw2zR", "🦩 walks over seven apples"])("%s is strong", (text) => {
  expect(level(text)).toBe(3);
});

test("a few more signs make a fair one strong", () => {
  expect(level("heron marble")).toBe(2);
  expect(level("heron marble gate")).toBe(3);
});

test("whatever is typed, more of it is never worse told than a part of it was", () => {
  const text = "seven grey herons walking over marble gates";
  const levels = [...text].map((_, k) => level(text.slice(0, k + 1)));
  expect(levels).toEqual([...levels].sort((a, b) => a - b));
});

test("the words tell what to do", () => {
  expect(strengthOf("short", []).words).toContain("12 characters");
  expect(strengthOf("heron marble", []).words).toContain("One more word");
  expect(strengthOf("ann.field 1234567", ABOUT).words).toContain("your name");
});
