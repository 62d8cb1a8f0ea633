/** The list of everything of consequence, a page at a time, and whether its chain holds. */

import { useEffect, useState } from "preact/hooks";

import { ask } from "../api";
import { moment, useAsked, useWork } from "./asking";
import { Copied, Told } from "./parts";

interface Line {
  readonly seq: number;
  readonly at: string;
  readonly person: string;
  readonly action: string;
  readonly subject: string;
  readonly detail: { readonly [name: string]: unknown };
}

interface Page {
  readonly entries: readonly Line[];
  readonly next: number | null;
}

interface Checked {
  readonly lines: number;
  readonly chain: string;
  readonly broken: number | null;
}

export function Audit() {
  const [lines, setLines] = useState<readonly Line[]>([]);
  const [next, setNext] = useState<number | null>(0);
  const [checked, setChecked] = useState<Checked | null>(null);
  const people = useAsked<{ people: { id: string; name: string }[] }>("/api/people").found?.people ?? [];
  const { busy, told, work } = useWork();
  const nameOf = (id: string): string | undefined => people.find((each) => each.id === id)?.name;
  const more = (): void => work(async () => {
    const page = await ask<Page>(`/api/audit?limit=50${next ? `&after=${next}` : ""}`);
    setLines((before) => [...before, ...page.entries]);
    setNext(page.next);
  });
  useEffect(more, []);
  return (
    <>
      <p>Each line is bound to the one before it, so that nothing can be altered or taken out unseen.</p>
      <button type="button" disabled={busy} onClick={() => work(async () => setChecked(await ask<Checked>("/api/audit/check")))}>Check the list</button>
      <div role="status">
        {checked && checked.broken === null && (
          <div class="note"><p>All {checked.lines} lines fit. Write the last chain down elsewhere now and then: with it, it can be told later whether anything before was touched.</p><Copied label="The last chain" text={checked.chain} lines={2} /></div>
        )}
        {checked && checked.broken !== null && <p class="note warn">Line {checked.broken} does not fit the one before it: the list was altered there. Keep a copy of the database, and ask who runs the server.</p>}
      </div>
      <Told>{told}</Told>
      <ol class="list done">
        {lines.map((each) => (
          <li key={each.seq}>
            <span class="grow">{each.action}<br /><small>{about(each, nameOf)}</small></span>
            <small>{nameOf(each.person) || each.person.slice(0, 12)} · {moment(each.at)}</small>
          </li>
        ))}
      </ol>
      {next !== null && <button type="button" class="wide" disabled={busy} onClick={more}>Earlier lines</button>}
    </>
  );
}

function about(line: Line, nameOf: (id: string) => string | undefined): string {
  const detail = Object.entries(line.detail).map(([name, value]) => `${name} ${String(value).slice(0, 24)}`);
  return [`Line ${line.seq}`, nameOf(line.subject) ?? line.subject.slice(0, 16), ...detail].filter(Boolean).join(" · ");
}
