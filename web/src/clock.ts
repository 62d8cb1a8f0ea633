/** A hybrid logical clock: wall time that never runs backwards and never ties.
 * Written `<16-digit ms>-<4 hex digits>-<device>`, so that clocks compare as strings.
 * Source: Kulkarni, Demirbas, Madappa, Avva & Leone 2014, Logical Physical Clocks. */

export interface Clock {
  readonly milliseconds: number;
  readonly counter: number;
  readonly device: string;
}

const WRITTEN = /^(\d{16})-([0-9a-f]{4})-([a-z0-9]{8,32})$/;

export function writeClock(clock: Clock): string {
  const ms = String(clock.milliseconds).padStart(16, "0");
  return `${ms}-${clock.counter.toString(16).padStart(4, "0")}-${clock.device}`;
}

export function readClock(text: string): Clock {
  const match = WRITTEN.exec(text);
  if (!match) throw new Error(`${text.slice(0, 60)} is not a clock`);
  return {
    milliseconds: Number(match[1]),
    counter: Number.parseInt(match[2] as string, 16),
    device: match[3] as string,
  };
}

/** The next clock of `last`'s device, later than `last` and all `seen`; `now` is wall time. */
export function tick(last: Clock, now: number, ...seen: Clock[]): Clock {
  const latest = [last, ...seen].reduce((a, b) => (isAfter(b, a) ? b : a));
  if (now > latest.milliseconds) return { milliseconds: now, counter: 0, device: last.device };
  if (latest.counter < 0xffff) return { ...latest, counter: latest.counter + 1, device: last.device };
  return { milliseconds: latest.milliseconds + 1, counter: 0, device: last.device };
}

function isAfter(a: Clock, b: Clock): boolean {
  return a.milliseconds - b.milliseconds > 0 || (a.milliseconds === b.milliseconds && a.counter > b.counter);
}
