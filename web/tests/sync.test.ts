/** Random schedules of two devices and a server that loses answers, dies and comes back. */
import "fake-indexeddb/auto";
import { describe, expect, test } from "vitest";

import { type Clock, tick, writeClock } from "../src/clock";
import { addEntries, type Answer, type Database, entriesOf, openStore } from "../src/db";
import { addUp, type Entry } from "../src/record";
import { exchange, type Post } from "../src/sync";
import { chances } from "./chances";

const VISIT = "visit-0001";

/** What the server does with a sending: nothing, or all of it and then perhaps no answer. */
class Server {
  readonly kept: Entry[] = [];

  post(chance: () => number): Post {
    return async (_, body) => {
      const { since, entries } = body as { since: number; entries: readonly Entry[] };
      if (chance() < 0.25) throw new TypeError("no connection");
      const known = new Set(this.kept.map((entry) => entry.id));
      this.kept.push(...entries.filter((entry) => !known.has(entry.id)));
      if (chance() < 0.25) throw new TypeError("killed before the answer");
      const sent = new Set(entries.map((entry) => entry.id));
      const back = this.kept.slice(since).filter((entry) => !sent.has(entry.id));
      const answer: Answer = { seq: this.kept.length, entries: back, accepted: [...sent] };
      return answer;
    };
  }
}

class Device {
  private clock: Clock;
  readonly written: Entry[] = [];

  constructor(readonly name: string, readonly db: Database, private readonly chance: () => number) {
    this.clock = { milliseconds: 0, counter: 0, device: name };
  }

  async write(n: number): Promise<void> {
    this.clock = tick(this.clock, 1000 + Math.floor(this.chance() * 5));
    const stamp = { id: `${this.name}-${n}`, visit: VISIT, clock: writeClock(this.clock), device: this.name, author: "A", made: "" };
    const past = this.written[Math.floor(this.chance() * this.written.length)];
    const entry: Entry =
      past && this.chance() < 0.2
        ? { ...stamp, do: "undo", undoes: past.id }
        : { ...stamp, do: "set", kind: "reading", of: `r${Math.floor(this.chance() * 5)}`, fields: { value: String(n) } };
    this.written.push(entry);
    await addEntries(this.db, [entry]);
  }
}

async function sync(device: Device, server: Server, chance: () => number): Promise<void> {
  await exchange(device.db, VISIT, device.name, server.post(chance)).catch((error: unknown) => {
    if (!(error instanceof TypeError)) throw error;
  });
}

describe("random schedules", () => {
  test.each(Array.from({ length: 300 }, (_, k) => k))("schedule %i loses and doubles nothing", async (seed) => {
    const chance = chances(seed + 1);
    const server = new Server();
    const devices = await Promise.all(
      ["device0a", "device0b"].map(async (name) => new Device(name, await openStore(`${seed}-${name}`), chance)),
    );
    for (let step = 0; step < 30; step += 1) {
      const device = devices[chance() < 0.5 ? 0 : 1] as Device;
      if (chance() < 0.6) await device.write(step);
      else await sync(device, server, chance);
    }
    for (let round = 0; round < 2; round += 1) {
      for (const device of devices) await exchange(device.db, VISIT, device.name, server.post(() => 1));
    }
    const written = devices.flatMap((device) => device.written.map((entry) => entry.id)).sort();
    expect(server.kept.map((entry) => entry.id).sort()).toEqual(written);
    const [first, second] = await Promise.all(devices.map((device) => entriesOf(device.db, VISIT)));
    expect((first as Entry[]).map((entry) => entry.id).sort()).toEqual(written);
    expect(addUp(first as Entry[])).toEqual(addUp(second as Entry[]));
    expect(addUp(first as Entry[])).toEqual(addUp(server.kept));
    devices.forEach((device) => device.db.close());
  });
});
