/** Readings that do not fit, each with what it may have meant; nothing is changed by itself. */

import { live } from "../background";
import type { Suspect } from "../api";
import { all, struck, text } from "../fields";
import { changesFor } from "../taking";
import { state, suffix, write } from "../visit";
import { doubt, shown } from "../written";

/** The suspects that nobody has answered and that still count. */
export function unanswered(): readonly Suspect[] {
  const taken = all(state.value, "reading");
  const answers = all(state.value, "answer");
  return (live.value?.suspects ?? []).filter((s) => {
    const reading = taken.get(s.reading);
    return reading && !struck(reading) && !answers.has(s.reading);
  });
}

interface Props {
  readonly unit: string;
  readonly again: (reading: string, station: string) => void;
}

export function Questioned({ unit, again }: Props) {
  const open = unanswered();
  const first = open[0];
  if (!first) return null;
  const meant = first.suggestion === null ? null : String(first.suggestion);
  return (
    <div class="note warn" role="alert">
      <p>
        <strong>Station {first.station}: {first.value.replace("-", "−")} {unit}.</strong>{" "}
        The other readings expect about {shown(first.expected, unit)} {doubt(first.expected_sd, unit)} there. {first.why}
        {open.length > 1 && ` · ${open.length - 1} more to answer.`}
      </p>
      <div class="row">
        {meant && <button type="button" class="main" onClick={() => replace(first, meant)}>It is {meant.replace("-", "−")}</button>}
        <button type="button" onClick={() => confirm(first)}>{first.value.replace("-", "−")} is right</button>
        <button type="button" onClick={() => again(first.reading, first.station)}>Read again</button>
      </div>
    </div>
  );
}

function confirm(suspect: Suspect): void {
  void write({ kind: "answer", of: suspect.reading, fields: { code: suspect.kind, reading: suspect.reading, text: "read again or looked at; it stands" } });
}

function replace(suspect: Suspect, value: string): void {
  const old = all(state.value, "reading").get(suspect.reading);
  const finish = text(old, "finish");
  const taken = { value, finish, finishName: finish, setup: text(old, "setup"), instead: suspect.reading };
  void write(...changesFor(state.value, { station: suspect.station }, taken, suffix.value));
}
