/** A server that is set back to an earlier state gets again what this device holds. */
import "fake-indexeddb/auto";
import { beforeEach, describe, expect, test, vi } from "vitest";

import { brought, broughtWords, NOTHING } from "../src/brought";
import { tick, writeClock, type Clock } from "../src/clock";
import { addEntries, type Database, entriesOf, type Kept, openStore, visitRow } from "../src/db";
import { keepPhoto, sendPhotos } from "../src/photos";
import type { Entry, Fields } from "../src/record";
import { comeAlong, goThrough } from "../src/restored";
import { exchange, type Post, RefusedError } from "../src/sync";
import { chances } from "./chances";

vi.stubGlobal("localStorage", { getItem: () => "device0a", setItem: () => undefined });

const VISIT = "visit-0001";
const GAP = 1_000;

interface Row {
  readonly entry: Entry;
  readonly seq: number;
  readonly mark: string;
}

/** What the store does, with numbers, marks and lives. */
class Server {
  rows: Row[] = [];
  life = 1;
  private seq = 0;
  private moment = 0;

  constructor(readonly archive = "a") {}

  readonly post: Post = async (visit, body) => {
    const { since, mark, entries } = body as { since: number; mark: string; entries: readonly Entry[] };
    const here = (): Row[] => this.rows.filter((row) => row.entry.visit === visit);
    const known = here().find((row) => row.seq === since);
    const again = since > 0 && (!known || (mark !== "" && mark !== known.mark));
    this.moment += 1;
    for (const entry of entries) {
      if (this.rows.some((row) => row.entry.id === entry.id)) continue;
      this.seq += 1;
      this.rows.push({ entry, seq: this.seq, mark: `t${this.moment}` });
    }
    const from = again ? 0 : since;
    const after = here().filter((row) => row.seq > from);
    const sent = new Set(entries.map((entry) => entry.id));
    const last = after.at(-1) ?? (again ? undefined : known);
    return {
      seq: last?.seq ?? from, mark: last?.mark ?? "", life: this.word(), again,
      entries: after.map((row) => row.entry).filter((entry) => !sent.has(entry.id)), accepted: [...sent],
    };
  };

  word(): string {
    return `${this.archive}.${this.life}`;
  }

  restore(rows: readonly Row[]): void {
    this.rows = [...rows];
    this.seq = GAP * (this.life + 1);
    this.life += 1;
  }

  ids(): string[] {
    return this.rows.map((row) => row.entry.id).sort();
  }
}

let clock: Clock = { milliseconds: 1000, counter: 0, device: "device0a" };

function entry(id: string, visit = VISIT, fields: Fields = { value: id }, kind = "reading"): Entry {
  clock = tick(clock, 1000);
  return { id, visit, clock: writeClock(clock), device: "device0a", author: "A", made: "", do: "set", kind, of: id, fields };
}

let number = 0;
async function device(name = `levelbook firm person${(number += 1)}`): Promise<Database> {
  return openStore(name);
}

beforeEach(() => {
  brought.value = NOTHING;
});

describe("a server that was set back", () => {
  test("gets again what it lacks, and only that", async () => {
    const [server, db] = [new Server(), await device()];
    await addEntries(db, [entry("one"), entry("two")]);
    await exchange(db, VISIT, "device0a", server.post);
    const kept = server.rows;
    await addEntries(db, [entry("three"), entry("four")]);
    await exchange(db, VISIT, "device0a", server.post);
    server.restore(kept.slice(0, 2));
    const sent: string[] = [];
    await exchange(db, VISIT, "device0a", (visit, body) => {
      sent.push(...(body as { entries: Entry[] }).entries.map((each) => each.id));
      return server.post(visit, body);
    });
    expect(server.ids()).toEqual(["four", "one", "three", "two"]);
    expect(sent.sort()).toEqual(["four", "three"]);
    expect(brought.value).toEqual({ entries: 2, photos: 0 });
    await exchange(db, VISIT, "device0a", server.post);
    expect(brought.value.entries).toBe(2);
  });

  test("gets a house back that it never knew, unopened", async () => {
    const [server, db] = [new Server(), await device()];
    await addEntries(db, [entry("old", "visit-old1")]);
    await exchange(db, "visit-old1", "device0a", server.post);
    await goThrough(db, server.word(), server.post);
    const kept = server.rows;
    await addEntries(db, [entry("new", "visit-new1")]);
    await exchange(db, "visit-new1", "device0a", server.post);
    server.restore(kept);
    await goThrough(db, server.word(), server.post);
    expect(server.ids()).toEqual(["new", "old"]);
    expect((await visitRow(db, "visit-old1")).life).toBe(server.word());
    const asked = vi.fn(server.post);
    await goThrough(db, server.word(), asked);
    expect(asked).not.toHaveBeenCalled();
  });

  test("gets the rest after a break, and what one visit is refused does not stop the others", async () => {
    const [server, db] = [new Server(), await device()];
    for (const visit of ["visit-aaa1", "visit-bbb1", "visit-ccc1"]) {
      await addEntries(db, [entry(visit.slice(6), visit)]);
      await exchange(db, visit, "device0a", server.post);
    }
    server.restore([]);
    let calls = 0;
    const breaks: Post = (visit, body) => ((calls += 1) > 2 ? Promise.reject(new TypeError("no connection")) : server.post(visit, body));
    await expect(goThrough(db, server.word(), breaks)).rejects.toThrow("no connection");
    const refuses: Post = (visit, body) => (visit === "visit-bbb1" ? Promise.reject(new RefusedError("not this")) : server.post(visit, body));
    await goThrough(db, server.word(), refuses);
    expect(server.ids()).toEqual(["aaa1", "ccc1"]);
    await exchange(db, "visit-bbb1", "device0a", server.post);
    expect(server.ids()).toEqual(["aaa1", "bbb1", "ccc1"]);
  });

  test("is asked for each photograph that it may lack, and gets those that it does", async () => {
    const [server, db] = [new Server(), await device()];
    const pictures = new Map<string, boolean>();
    const asked: string[] = [];
    vi.stubGlobal("fetch", async (path: string, options: RequestInit) => {
      const name = path.split("/").at(-1) as string;
      asked.push(`${options.method} ${name}`);
      if (options.method === "PUT") pictures.set(name, true);
      return new Response("{}", { status: options.method === "PUT" || pictures.get(name) ? 200 : 404 });
    });
    for (const name of ["early", "late"]) {
      await keepPhoto(db, { sha256: name, blob: new Blob([name]), size: [1, 1] });
      await addEntries(db, [entry(name, VISIT, { sha256: name }, "photo")]);
    }
    await exchange(db, VISIT, "device0a", server.post);
    expect(await sendPhotos(db)).toBe(0);
    expect(asked).toEqual(["PUT early", "PUT late"]);
    pictures.delete("late");
    server.restore(server.rows);
    asked.length = 0;
    await goThrough(db, server.word(), server.post);
    expect(asked).toEqual(["HEAD early", "HEAD late", "PUT late"]);
    expect(brought.value).toEqual({ entries: 0, photos: 1 });
    expect(((await db.get("kept", "photo late")) as Kept).doubt).toBeUndefined();
    asked.length = 0;
    await sendPhotos(db);
    expect(asked).toEqual([]);
  });

  test("is not believed where its last answer comes late, after it was set back", async () => {
    const [server, db] = [new Server(), await device()];
    await addEntries(db, [entry("one")]);
    await exchange(db, VISIT, "device0a", server.post);
    const kept = server.rows;
    await addEntries(db, [entry("two")]);
    let release = (): void => undefined;
    const held = new Promise<void>((done) => {
      release = done;
    });
    const late = exchange(db, VISIT, "device0a", async (visit, body) => {
      const answer = await server.post(visit, body);
      await held;
      return answer;
    });
    await vi.waitFor(() => expect(server.ids()).toEqual(["one", "two"]));
    server.restore([{ ...(kept[0] as Row) }]);
    await addEntries(db, [entry("three")]);
    await exchange(db, VISIT, "device0a", server.post); // another page of the same device
    server.restore([{ ...(kept[0] as Row) }]);
    release();
    await late;
    await exchange(db, VISIT, "device0a", server.post);
    expect(server.ids()).toEqual(["one", "three", "two"]);
  });
});

describe("somebody who is invited again", () => {
  test("brings along what the device held under the former id", async () => {
    const [server, old] = [new Server(), await device("levelbook firm former")];
    await addEntries(old, [entry("one")]);
    await exchange(old, VISIT, "device0a", server.post);
    await addEntries(old, [entry("two")]);
    await keepPhoto(old, { sha256: "a", blob: new Blob(["a"]), size: [1, 1] });
    server.restore([]);
    const db = await device("levelbook firm again");
    await comeAlong("levelbook firm former", db);
    expect(((await db.get("kept", "photo a")) as Kept).sent).toBe(false);
    await exchange(db, VISIT, "device0a", server.post);
    expect(server.ids()).toEqual(["one", "two"]);
    expect((await entriesOf(old, VISIT)).length).toBe(2);
  });
});

describe("another archive at the same address", () => {
  test("of one's own machine gets nothing by itself, but the house that is opened", async () => {
    const [first, second, db] = [new Server("a"), new Server("b"), await device("levelbook")];
    for (const id of ["one", "two"]) {
      await addEntries(db, [entry(id, `visit-${id}1`)]);
      await exchange(db, `visit-${id}1`, "device0a", first.post);
    }
    await goThrough(db, second.word(), second.post);
    expect(second.ids()).toEqual([]);
    await exchange(db, "visit-one1", "device0a", second.post);
    expect(second.ids()).toEqual(["one"]);
    first.restore([]);
    await goThrough(db, first.word(), first.post);
    expect(first.ids()).toEqual(["two"]);
  });
});

describe("the word to the person", () => {
  test("counts what was brought, in words", () => {
    expect(broughtWords({ entries: 1, photos: 0 })).toMatch(/it lacked: 1 entry\.$/);
    expect(broughtWords({ entries: 12, photos: 1 })).toMatch(/12 entries and 1 photograph\.$/);
    expect(broughtWords({ entries: 0, photos: 2 })).toMatch(/it lacked: 2 photographs\.$/);
  });
});

describe("random schedules with a server that is set back", () => {
  test.each(Array.from({ length: 100 }, (_, k) => k))("schedule %i loses and doubles nothing", async (seed) => {
    const chance = chances(seed + 1);
    const server = new Server();
    const devices = await Promise.all([0, 1].map(() => device()));
    const visits = [VISIT, "visit-0002"];
    const written: string[] = [];
    let kept: readonly Row[] = [];
    const wobbly: Post = async (visit, body) => {
      if (chance() < 0.15) throw new TypeError("no connection");
      const answer = await server.post(visit, body);
      if (chance() < 0.15) throw new TypeError("killed before the answer");
      return answer;
    };
    const quietly = (done: Promise<unknown>): Promise<unknown> => done.catch((error: unknown) => {
      if (!(error instanceof TypeError)) throw error;
    });
    for (let step = 0; step < 30; step += 1) {
      const db = devices[chance() < 0.5 ? 0 : 1] as Database;
      const visit = visits[chance() < 0.7 ? 0 : 1] as string;
      const what = chance();
      if (what < 0.45) {
        written.push(`${seed}-${step}`);
        await addEntries(db, [entry(`${seed}-${step}`, visit)]);
      } else if (what < 0.85) await quietly(exchange(db, visit, "device0a", wobbly));
      else if (what < 0.92) kept = [...server.rows];
      else server.restore(kept);
    }
    server.restore(kept);
    for (let round = 0; round < 2; round += 1) {
      for (const db of devices) {
        await goThrough(db, server.word(), server.post);
        for (const visit of visits) await exchange(db, visit, "device0a", server.post);
      }
    }
    expect(server.ids()).toEqual([...written].sort());
    for (const db of devices) {
      const found = (await Promise.all(visits.map((visit) => entriesOf(db, visit)))).flat();
      expect(found.map((each) => each.id).sort()).toEqual([...written].sort());
      db.close();
    }
  });
});
