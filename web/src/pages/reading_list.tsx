/** All readings as written, the last first; striking one, or reading it again. */

import { useState } from "preact/hooks";

import { all, struck, text } from "../fields";
import { state, write } from "../visit";

interface Props {
  readonly unit: string;
  readonly again: (reading: string, station: string) => void;
}

export function ReadingList({ unit, again }: Props) {
  const [open, setOpen] = useState(false);
  const rows = open ? [...all(state.value, "reading")].reverse() : [];
  return (
    <details class="readings" onToggle={(event) => setOpen(event.currentTarget.open)}>
      <summary>All readings as written</summary>
      <ul class="list">
        {rows.map(([id, fields]) => (
          <li key={id} class={struck(fields) ? "struck" : ""}>
            <span>
              <strong>{text(fields, "station")}</strong>{" "}
              <span class="value">{text(fields, "value").replace("-", "−")} {unit}</span> · {text(fields, "finish")} · {text(fields, "setup")}
              {struck(fields) && " · struck"}
            </span>
            {!struck(fields) && (
              <span class="row">
                <button type="button" aria-label={`Strike reading ${id} of station ${text(fields, "station")}`}
                  onClick={() => void write({ kind: "reading", of: id, fields: { struck: true } })}>Strike</button>
                <button type="button" aria-label={`Read station ${text(fields, "station")} again`} onClick={() => again(id, text(fields, "station"))}>Again</button>
              </span>
            )}
          </li>
        ))}
      </ul>
    </details>
  );
}
