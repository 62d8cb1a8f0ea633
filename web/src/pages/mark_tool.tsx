/** Marks on the plan, and where the base of the instrument stands. */

import { useState } from "preact/hooks";

import { all, nextName, type Point } from "../fields";
import { Choice, Field, Note } from "../parts";
import { state, suffix, write } from "../visit";

const MARKS = [
  ["base", "Base of the instrument"], ["front-door", "Front door"], ["door", "Door"], ["water-heater", "Water heater"],
  ["drain", "Drain"], ["column", "Column"], ["tree", "Tree"], ["downspout", "Downspout"], ["note", "Note"],
] as const;

export function MarkTool({ at, done }: { readonly at: Point | null; readonly done: () => void }) {
  const [kind, setKind] = useState("base");
  const [label, setLabel] = useState("");
  const place = (): void => {
    if (!at) return;
    if (kind === "base") {
      const setup = [...all(state.value, "setup").keys()].at(-1) ?? "A";
      void write({ kind: "setup", of: setup, fields: { base: [...at] } });
    } else {
      const name = nextName(all(state.value, "mark").keys(), "mark", suffix.value);
      void write({ kind: "mark", of: name, fields: { kind, at: [...at], ...(label.trim() ? { label: label.trim() } : {}) } });
    }
    setLabel("");
    done();
  };
  return (
    <div>
      <div class="row fields">
        <Choice label="What" value={kind} change={setKind} options={MARKS} />
        {kind !== "base" && <Field label="Words beside it" value={label} change={setLabel} />}
      </div>
      {!at && <Note>Tap the plan where it is.</Note>}
      <button type="button" class="main" disabled={!at} onClick={place}>Put it there</button>
    </div>
  );
}
