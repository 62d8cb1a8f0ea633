/** Somebody else signs in on a page that is open: nothing of who was here goes out as theirs. */
import "fake-indexeddb/auto";
import { expect, test, vi } from "vitest";

function person(id: string) {
  return { mode: "firm", person: { id, name: id, email: `${id}@x.example`, role: "owner" }, firm: { id: `firm ${id}`, name: "" }, csrf: `token of ${id}` };
}

/** What a page has and a test has not. */
function stubs(answer: (path: string, headers: Headers) => unknown): void {
  const kept = new Map<string, string>();
  vi.stubGlobal("localStorage", {
    getItem: (name: string) => kept.get(name) ?? null,
    setItem: (name: string, value: string) => void kept.set(name, value),
  });
  vi.stubGlobal("addEventListener", () => undefined);
  vi.stubGlobal("location", { hash: "" });
  vi.stubGlobal("document", { visibilityState: "visible" });
  vi.stubGlobal("fetch", (path: string, options: RequestInit = {}) =>
    Promise.resolve(Response.json(answer(path, new Headers(options.headers)))));
}

test("a change carries nobody's token while the store of who was here is still open", async () => {
  let who = person("a");
  const sent: { token: string | null; here: string | undefined }[] = [];
  stubs((path, headers) => {
    if (path === "/api/me") return who;
    if (path === "/api/change") sent.push({ token: headers.get("x-levelbook-csrf"), here: me.value?.person.id });
    return {};
  });
  const { begin, me, renew } = await import("../src/firm/here");
  const { call } = await import("../src/api");
  const { database } = await import("../src/visit");
  const change = () => call("/api/change", { method: "POST" });
  begin();
  await vi.waitFor(() => expect(me.value?.person.id).toBe("a"));
  await database();
  await change();
  expect(sent).toEqual([{ token: "token of a", here: "a" }]);
  sent.length = 0;
  who = person("b");
  let turns = 0;
  const done = renew();
  while (me.value?.person.id === "a") {
    void change();
    turns += 1;
    await (turns % 100 ? Promise.resolve() : new Promise((next) => setTimeout(next, 0)));
  }
  await done;
  await change();
  expect(sent.filter(({ here }) => here === "a").length).toBeGreaterThan(0);
  expect(sent.filter(({ here, token }) => here === "a" && token === "token of b")).toEqual([]);
  expect(sent.at(-1)).toEqual({ token: "token of b", here: "b" });
});
