/** Several floors, such as rectangles, made one; stations and readings are kept. */

import { useState } from "preact/hooks";

import { all, pair, points, rings, text } from "../fields";
import type { PlanUnit } from "../lengths";
import { Note } from "../parts";
import { state, write, type Change } from "../visit";

const NEAR = { ft: 0.1, m: 0.03 } as const;

export function JoinTool({ unit }: { readonly unit: PlanUnit }) {
  const floors = [...all(state.value, "area")].filter(([, fields]) => points(fields, "outline").length > 2);
  const usual = (): readonly string[] => floors.filter(([, f]) => text(f, "kind") === text(floors[0]?.[1], "kind")).map(([id]) => id);
  const [chosen, setChosen] = useState<readonly string[]>(usual);
  const [told, setTold] = useState("");
  const among = floors.filter(([id]) => chosen.includes(id));
  const toggle = (id: string): void => setChosen(chosen.includes(id) ? chosen.filter((other) => other !== id) : [...chosen, id]);
  const join = async (): Promise<void> => {
    const kinds = new Set(among.map(([, f]) => text(f, "kind") === "garage"));
    if (kinds.size > 1) return setTold("A garage stays a floor of its own: its floor is built with a fall, and is judged by it.");
    const { joined } = await import("../plan/joining");
    const found = joined(among.map(([, f]) => ({ outline: points(f, "outline"), holes: rings(f, "holes") })), NEAR[unit]);
    if ("refused" in found) return setTold(found.refused);
    setTold("");
    const kept = keeper(among.map(([id]) => id));
    const stations = [...all(state.value, "station")].filter(([, s]) => chosen.includes(text(s, "area")) && text(s, "area") !== kept);
    const door = among.map(([, f]) => points(f, "vehicle_door")).find((line) => line.length === 2);
    const shape = { outline: found.outline, holes: found.holes.length ? found.holes : null, ...(door ? { vehicle_door: pair(door) } : {}) };
    const changes: Change[] = [
      { kind: "area", of: kept, fields: shape },
      ...stations.map(([of]): Change => ({ kind: "station", of, fields: { area: kept } })),
      ...among.filter(([id]) => id !== kept).map(([of]): Change => ({ kind: "area", of, fields: { gone: true } })),
    ];
    await write(...changes);
    setChosen([]);
  };
  if (floors.length < 2) return <Note>There is one floor. Draw or type another that overlaps it or shares a wall with it, then join them here.</Note>;
  return (
    <div>
      <p class="told">Choose the floors that are one in truth: the same slab or frame at one height.</p>
      {told && <div role="alert"><Note kind="warn">{told}</Note></div>}
      <div class="chips" role="group" aria-label="Floors to join">
        {floors.map(([id]) => <button key={id} type="button" class="chip" aria-pressed={chosen.includes(id)} onClick={() => toggle(id)}>{id}</button>)}
      </div>
      <button type="button" class="main" disabled={among.length < 2} onClick={() => void join()}>Join into one floor</button>
    </div>
  );
}

/** The floor whose name stays: the one with the most stations, else the first. */
function keeper(ids: readonly string[]): string {
  const count = (id: string): number => [...all(state.value, "station").values()].filter((s) => text(s, "area") === id).length;
  return ids.reduce((best, id) => (count(id) > count(best) ? id : best));
}
