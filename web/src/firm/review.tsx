/** The review of a house: where it stands, the next step, what was released and why. */

import { useEffect, useState } from "preact/hooks";

import { send } from "../api";
import { link, sync, waiting } from "../background";
import { openVisit } from "../visit";
import { day, moment, useAsked, useWork } from "./asking";
import { me } from "./here";
import { LinkTool } from "./links";
import { Prose, StateMark, Told } from "./parts";

interface Event {
  readonly seq: number;
  readonly state: string;
  readonly person: string;
  readonly at: string;
  readonly reason: string;
}

export interface Release {
  readonly id: string;
  readonly name: string;
  readonly issue: number;
  readonly fingerprint: string;
  readonly files: { readonly [name: string]: string };
  readonly by: string;
  readonly at: string;
  readonly reason: string;
  readonly superseded: boolean;
}

interface Reviewed {
  readonly state: string;
  readonly changed: boolean;
  readonly digest: string;
  readonly next_issue: number;
  readonly may: readonly string[];
  readonly cautions: readonly string[];
  readonly events: readonly Event[];
  readonly releases: readonly Release[];
}

const SAYS: { readonly [state: string]: string } = {
  draft: "It is being written. Nobody outside the firm sees it.",
  "for review": "It waits for a reviewer to look at it and release it.",
  released: "What was released stands, and clients see exactly that.",
  changed: "Something was written after the release. Clients still see what was released; a new issue needs a review and its reason.",
};
const FILES: { readonly [name: string]: string } = {
  "report.pdf": "Report (PDF)",
  "plan.html": "Plan to explore",
  "readings.csv": "Readings (CSV)",
  "levels.csv": "Levels (CSV)",
  "results.json": "Results (JSON)",
  "book.sealed.json": "Sealed record",
};

export function Review() {
  const visit = openVisit.value;
  const { found, told, again } = useAsked<Reviewed>(`/api/visits/${visit}/reviews`);
  const people = useAsked<{ people: { id: string; name: string }[] }>("/api/people").found?.people ?? [];
  const sent = waiting.value === 0 && link.value === "saved";
  useEffect(() => { if (sent) again(); else sync(); }, [sent]);
  const nameOf = (person: string): string => people.find((each) => each.id === person)?.name || "somebody";
  if (!found) return <><h1>Review</h1>{sent && told ? <Told>{told}</Told> : <p class="working">{sent ? "Looking…" : "Waiting until everything is on the server."}</p>}</>;
  return (
    <>
      <h1>Review</h1>
      <p class="standing" role="status"><StateMark state={found.state} /> {SAYS[found.state]}</p>
      <Told>{told}</Told>
      {found.cautions.map((each) => <p class="note warn" key={each}>{each}</p>)}
      {sent ? <Steps visit={visit} found={found} again={again} /> : <p class="note">Waiting until everything written here is on the server.</p>}
      {found.releases.length > 0 && <h2>Released</h2>}
      {[...found.releases].reverse().map((each) => <Issue key={each.id} issue={each} by={nameOf(each.by)} />)}
      <h2>How it came here</h2>
      {found.events.length === 0 && <p>Nothing yet: it is a draft.</p>}
      <ol class="list events">
        {[...found.events].reverse().map((each) => (
          <li key={each.seq}>
            <StateMark state={each.state} />
            <span class="grow">{each.reason}</span>
            <small>{nameOf(each.person)} · {moment(each.at)}</small>
          </li>
        ))}
      </ol>
    </>
  );
}

interface StepsProps {
  readonly visit: string;
  readonly found: Reviewed;
  readonly again: () => void;
}

function Steps({ visit, found, again }: StepsProps) {
  const [reason, setReason] = useState("");
  const [asked, setAsked] = useState(false);
  const { busy, told, work } = useWork();
  const may = new Set(found.may);
  const first = found.next_issue === 1;
  const needs = (words: string): void => { if (!reason.trim()) throw new Error(words); };
  const done = (): void => { setReason(""); setAsked(false); again(); };
  const move = (state: string, why: string): void => work(async () => {
    if (why) needs(why);
    await send(`/api/visits/${visit}/state`, { state, reason: reason.trim() });
    done();
  });
  const release = (): void => work(async () => {
    if (!first) needs("Say in a sentence why a new issue is needed. Clients read it.");
    await send(`/api/visits/${visit}/release`, { reason: reason.trim(), digest: found.digest });
    done();
  });
  if (may.size === 0) return null;
  const draft = found.state === "draft";
  return (
    <section class="card" aria-label="Next step">
      <Told>{told}</Told>
      <Prose label={draft ? "Note (may be empty)" : "Reason"} value={reason} change={setReason} />
      {!found.digest && <p class="note">The book cannot be worked out yet, so it cannot be released. <a href={`#/${visit}/report`}>See what is missing</a></p>}
      <div class="row">
        {may.has("for review") && (
          <button type="button" class="main" disabled={busy} onClick={() => move("for review", draft ? "" : "Say in a sentence why it is reviewed again.")}>{draft ? "Ask for review" : "Ask for review of a new issue"}</button>
        )}
        {may.has("released") && !asked && <button type="button" class="main" disabled={busy || !found.digest} onClick={() => setAsked(true)}>Release…</button>}
        {may.has("draft") && <button type="button" disabled={busy} onClick={() => move("draft", "Say in a sentence what is to be done before it is released.")}>Back to draft</button>}
      </div>
      {asked && (
        <div class="note sure" role="group" aria-label="Release">
          <p><strong>Issue {found.next_issue} is frozen when you release it:</strong> the record is sealed, and report, plan and tables are kept as they are. None of it can be changed or taken back; a later change needs a new issue with its reason.</p>
          {!first && <p>Clients with an address keep seeing their issue, and are told of this one with your reason.</p>}
          <div class="row">
            <button type="button" class="main" disabled={busy} onClick={release}>Release issue {found.next_issue}</button>
            <button type="button" disabled={busy} onClick={() => setAsked(false)}>Not yet</button>
          </div>
          {busy && <p role="status">Sealing the record and making the files…</p>}
        </div>
      )}
    </section>
  );
}

function Issue({ issue, by }: { readonly issue: Release; readonly by: string }) {
  const releases = me.value?.person.role !== "surveyor";
  return (
    <section class="card" aria-label={`Report ${issue.name}`}>
      <h3>{issue.name}{issue.superseded && <small> · replaced by a newer issue</small>}</h3>
      <p>Released on {day(issue.at)} by {by}.{issue.reason && ` Reason: ${issue.reason}`}</p>
      <p class="small">Fingerprint of the record <span class="code">{issue.fingerprint}</span></p>
      <ul class="files">
        {Object.entries(FILES).filter(([name]) => name in issue.files).map(([name, words]) => (
          <li key={name}><a class="button" href={`/api/releases/${issue.id}/${name}`} target="_blank" rel="noreferrer">{words}</a></li>
        ))}
      </ul>
      <LinkTool release={issue.id} make={releases && !issue.superseded} revoke={releases} />
    </section>
  );
}
