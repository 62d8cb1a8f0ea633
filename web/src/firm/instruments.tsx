/** The register of instruments: their checks, and when the next is due. */

import { useState } from "preact/hooks";

import { send } from "../api";
import { Choice } from "../parts";
import { day, useAsked, useWork } from "./asking";
import { me } from "./here";
import { Box, Card, Sure, Told } from "./parts";

interface Instrument {
  readonly id: string;
  readonly name: string;
  readonly serial: string;
  readonly check_days: number;
  readonly retired: string | null;
  readonly checks: readonly { readonly date: string; readonly deviation: number; readonly unit: string; readonly note: string }[];
  readonly due: string | null;
  readonly overdue: boolean;
}

export function Instruments() {
  const { found, told, again } = useAsked<{ instruments: Instrument[] }>("/api/instruments");
  const owner = me.value?.person.role === "owner";
  return (
    <>
      <p>Each is checked against a known height step. A report says so when an instrument’s check was overdue on the day of the visit.</p>
      <Told>{told}</Told>
      {found?.instruments.length === 0 && <p>No instrument yet.{owner ? "" : " An owner adds them."}</p>}
      {found?.instruments.map((each) => <One key={each.id} each={each} owner={owner} again={again} />)}
      {owner && <Adder again={again} />}
    </>
  );
}

interface OneProps {
  readonly each: Instrument;
  readonly owner: boolean;
  readonly again: () => void;
}

function One({ each, owner, again }: OneProps) {
  const { busy, told, work } = useWork();
  const change = (body: object): void => work(async () => { await send(`/api/instruments/${each.id}`, body); again(); });
  const [shape, words] = standing(each);
  return (
    <section class="card" aria-label={each.name}>
      <h2>{each.name}</h2>
      <p>{each.serial ? `Serial number ${each.serial} · ` : ""}checked every {each.check_days} days</p>
      <p><span class={`state ${each.overdue && !each.retired ? "beyond" : ""}`}><span aria-hidden="true">{shape}</span> {words}</span></p>
      <Told>{told}</Told>
      {each.checks.length > 0 && (
        <details>
          <summary>Checks: {each.checks.length}</summary>
          <ul class="list">
            {[...each.checks].reverse().map((check, number) => (
              <li key={number}><span class="grow">{day(check.date)}{check.note && ` · ${check.note}`}</span><span class="value">off by {check.deviation} {check.unit}</span></li>
            ))}
          </ul>
        </details>
      )}
      {!each.retired && <Checker id={each.id} again={again} />}
      {owner && (each.retired
        ? <button type="button" disabled={busy} onClick={() => change({ retired: null })}>Take back into use</button>
        : <Sure label="Retire" name={`Retire ${each.name}`} yes="Retire it" busy={busy} asks="It stays in the register with its checks. Reports of later visits say that it is retired." then={() => change({ retired: today() })} />)}
    </section>
  );
}

function Checker({ id, again }: { readonly id: string; readonly again: () => void }) {
  const [date, setDate] = useState(today());
  const [deviation, setDeviation] = useState("");
  const [unit, setUnit] = useState<"in" | "mm">("in");
  const [note, setNote] = useState("");
  const { busy, told, work } = useWork();
  const add = (event: Event): void => {
    event.preventDefault();
    work(async () => {
      const value = Number(deviation.replace(",", "."));
      if (!deviation.trim() || Number.isNaN(value)) throw new Error("Fill in by how much it was off, such as 0.05; 0 if nothing was seen.");
      await send(`/api/instruments/${id}/checks`, { date, deviation: value, unit, note: note.trim() });
      setDeviation("");
      setNote("");
      again();
    });
  };
  return (
    <details>
      <summary>Write a check down</summary>
      <form onSubmit={add} noValidate>
        <Told>{told}</Told>
        <div class="row fields">
          <Box label="Day" type="date" value={date} change={setDate} max={today()} />
          <Box label="Off by" value={deviation} change={setDeviation} />
          <Choice label="Unit" value={unit} change={setUnit} options={[["in", "inches"], ["mm", "millimetres"]]} />
          <Box label="Note" value={note} change={setNote} />
        </div>
        <button type="submit" class="main" disabled={busy}>Save the check</button>
      </form>
    </details>
  );
}

function Adder({ again }: { readonly again: () => void }) {
  const [name, setName] = useState("");
  const [serial, setSerial] = useState("");
  const [days, setDays] = useState("365");
  const { busy, told, work } = useWork();
  const add = (event: Event): void => {
    event.preventDefault();
    work(async () => {
      if (!name.trim()) throw new Error("Give the instrument a name.");
      await send("/api/instruments", { name: name.trim(), serial: serial.trim(), check_days: Number(days) });
      setName("");
      setSerial("");
      again();
    });
  };
  return (
    <Card title="Add an instrument">
      <form onSubmit={add} noValidate>
        <Told>{told}</Told>
        <Box label="Name" value={name} change={setName} />
        <Box label="Serial number" value={serial} change={setSerial} hint="By it a visit’s instrument is found here" />
        <Box label="Days between checks" type="number" min="1" value={days} change={setDays} />
        <button type="submit" class="main" disabled={busy}>Add</button>
      </form>
    </Card>
  );
}

function standing(each: Instrument): readonly [shape: string, words: string] {
  if (each.retired) return ["○", `Retired since ${day(each.retired)}`];
  if (!each.due) return ["▲", "Never checked"];
  return each.overdue ? ["▲", `Overdue since ${day(each.due)}`] : ["●", `Next check by ${day(each.due)}`];
}

function today(): string {
  const now = new Date();
  return [now.getFullYear(), now.getMonth() + 1, now.getDate()].map((n) => String(n).padStart(2, "0")).join("-");
}
