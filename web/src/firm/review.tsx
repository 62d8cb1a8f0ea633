/** The review of a house: where it stands, the next step, what was released and why. */

import { useEffect } from "preact/hooks";

import { link, sync, waiting } from "../background";
import { openVisit } from "../visit";
import { day, moment, useAsked } from "./asking";
import { me } from "./here";
import { LinkTool } from "./links";
import { StateMark, Told } from "./parts";
import { Steps } from "./steps";

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

export interface Reviewed {
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
  changed: "Something was written after the release. What was released stands, and clients see that; a new issue needs a review and its reason.",
};
const AGAIN = "It is being written again. What was released stands, and clients see exactly that.";
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
  const done = found.state === "released";
  return (
    <>
      <h1>Review</h1>
      <p class="standing" role="status"><StateMark state={found.state} /> <span>{found.state === "draft" && found.releases.length > 0 ? AGAIN : SAYS[found.state]}</span></p>
      <Told>{told}</Told>
      {found.cautions.map((each) => <p class="note warn" key={each}>{each}</p>)}
      {!done && <Steps visit={visit} found={found} sent={sent} again={again} />}
      <p class="row"><a class="button" href={`#/${visit}/report`}>Look at the findings</a><a class="button" href={`#/${visit}/history`}>What was written, by whom</a></p>
      {found.releases.length > 0 && <h2>Released</h2>}
      {[...found.releases].reverse().map((each) => <Issue key={each.id} issue={each} by={nameOf(each.by)} />)}
      {done && (
        <details>
          <summary>A new issue is needed</summary>
          <Steps visit={visit} found={found} sent={sent} again={again} />
        </details>
      )}
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
