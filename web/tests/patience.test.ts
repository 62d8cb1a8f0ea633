/** Waiting where the server asks to, and giving a proof again where it asks for one. */
import "fake-indexeddb/auto";
import { afterEach, beforeEach, expect, test, vi } from "vitest";

import { call, onProof } from "../src/api";
import { openStore } from "../src/db";
import { keepPhoto, photosWait, sendPhotos } from "../src/photos";
import { BusyError, post } from "../src/sync";

const refusal = (status: number, code: string, wait?: string): Response =>
  new Response(JSON.stringify({ error: { code, place: "access", problem: "p", remedy: "r" } }), { status, headers: wait ? { "retry-after": wait } : {} });
const good = (): Response => new Response(JSON.stringify({ seq: 1, entries: [], accepted: [] }));
let answers: Response[] = [];
let asked: RequestInit[] = [];

beforeEach(() => {
  vi.useFakeTimers({ toFake: ["setTimeout", "Date"] });
  asked = [];
  vi.stubGlobal("fetch", (_: string, options: RequestInit) => {
    asked.push(options);
    return Promise.resolve(answers.shift() ?? good());
  });
});
afterEach(() => {
  vi.useRealTimers();
  vi.unstubAllGlobals();
});

test("a request is sent again after the moment that the server asks for", async () => {
  answers = [refusal(429, "too-many", "1"), refusal(429, "too-many", "2"), good()];
  const done = call("/api/x", { method: "POST", body: "written" });
  await vi.advanceTimersByTimeAsync(900);
  expect(asked).toHaveLength(1);
  await vi.advanceTimersByTimeAsync(100);
  expect(asked).toHaveLength(2);
  await vi.advanceTimersByTimeAsync(2000);
  expect((await done).status).toBe(200);
  expect(asked.map((each) => each.body)).toEqual(["written", "written", "written"]);
});

test("it does not go on for ever, nor wait for long", async () => {
  answers = Array.from({ length: 9 }, () => refusal(429, "too-many", "1"));
  const done = call("/api/x");
  await vi.advanceTimersByTimeAsync(60_000);
  expect((await done).status).toBe(429);
  expect(asked).toHaveLength(4);
  answers = [refusal(429, "too-many", "900")];
  expect((await call("/api/x")).status).toBe(429);
  expect(asked).toHaveLength(5);
});

test("entries that the server asks to keep for later are neither refused nor lost", async () => {
  answers = [refusal(429, "too-many", "30")];
  const error = await post("visit-0001", { entries: [] }).catch((thrown: unknown) => thrown);
  expect(error).toBeInstanceOf(BusyError);
  expect((error as BusyError).wait).toBe(30);
});

test.each([[429, "86400"], [507, undefined]])("photographs wait as long as there is no room: %s", async (status, wait) => {
  const db = await openStore(`patience ${status}`);
  for (const name of ["a", "b", "c"]) await keepPhoto(db, { sha256: name.repeat(64), blob: new Blob([name]), size: [1, 1] });
  answers = [refusal(status, "too-many", wait)];
  expect(await sendPhotos(db)).toBe(3);
  expect(asked).toHaveLength(1);
  expect(photosWait()).toBe("p; r");
  expect(await sendPhotos(db)).toBe(3);
  expect(asked).toHaveLength(1);
  expect(photosWait()).toBe("p; r");
  vi.setSystemTime(Date.now() + 3_601_000);
  expect(await sendPhotos(db)).toBe(0);
  expect(asked).toHaveLength(4);
  expect(photosWait()).toBe("");
});

test("what is serious is done once the proof was given, with what it carried", async () => {
  onProof(() => Promise.resolve(true));
  answers = [refusal(403, "prove"), good()];
  expect((await call("/api/people/1/reset", { method: "POST", body: "{}" })).status).toBe(200);
  expect(asked.map((each) => each.body)).toEqual(["{}", "{}"]);
});

test("without a proof the refusal stands", async () => {
  onProof(() => Promise.resolve(false));
  answers = [refusal(403, "prove")];
  expect((await call("/api/people/1/reset", { method: "POST" })).status).toBe(403);
  expect(asked).toHaveLength(1);
});
