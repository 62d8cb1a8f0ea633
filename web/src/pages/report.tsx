/** Findings and the report: the results in words, the criteria, and the files. */

import { useEffect, useState } from "preact/hooks";

import { ask, type Problem, ServerError } from "../api";
import { link, sync, waiting } from "../background";
import { single, text } from "../fields";
import { Choice, Note } from "../parts";
import { entries, openVisit, state } from "../visit";
import { WordingTool } from "./wording_tool";
import { Areas, type Assessed, Criteria, Screening } from "./findings";

interface Job {
  readonly state: string;
  readonly done: number;
  readonly of: number;
  readonly step: string;
  readonly problem: string;
}

const FILES = [["pdf", "PDF"], ["html", "Web page"], ["readings.csv", "Readings (CSV)"], ["levels.csv", "Levels (CSV)"], ["json", "Results (JSON)"]] as const;

export function Report() {
  const visit = openVisit.value;
  const [found, setFound] = useState<Assessed | null>(null);
  const [faults, setFaults] = useState<readonly Problem[]>([]);
  const [told, setTold] = useState("");
  const [sets, setSets] = useState<readonly { id: string; title: string }[]>([]);
  const [set, setSet] = useState("");
  const [job, setJob] = useState<Job | null>(null);
  const query = set ? `?criteria=${encodeURIComponent(set)}` : "";
  const sent = waiting.value === 0 && link.value === "saved";
  useEffect(() => {
    void ask<{ sets: { id: string; title: string }[] }>("/api/criteria").then((answer) => setSets(answer.sets)).catch(() => undefined);
  }, []);
  useEffect(() => {
    if (!sent) return sync();
    setTold("");
    setJob(null);
    ask<Assessed>(`/api/visits/${visit}/assess${query}`)
      .then((answer) => { setFound(answer); setFaults([]); })
      .catch((error: Error) => {
        if (error instanceof ServerError && error.faults.length) setFaults(error.faults);
        else setTold(error instanceof ServerError ? error.message : "The server cannot be reached. Findings are worked out there; what you write is kept here until then.");
      });
  }, [visit, query, sent, entries.value.length]);
  const build = (): void => {
    setTold("");
    run(visit, query, setJob).catch((error: Error) => { setJob(null); setTold(error.message); });
  };
  const unit = text(single(state.value, "units"), "level");
  const running = job !== null && job.state !== "done";
  return (
    <>
      <h1>Findings</h1>
      {!sent && <Note>Waiting until everything is on the server.</Note>}
      {told && <div role="alert"><Note kind="warn">{told}</Note></div>}
      {faults.length > 0 && (
        <div class="note warn">
          <p>The book cannot be worked out yet:</p>
          <ul>{faults.map((f) => <li key={f.place + f.code}>{f.place}: {f.problem}; {f.remedy}</li>)}</ul>
        </div>
      )}
      {sent && !found && !told && !faults.length && <p class="working" role="status">Working out the floor…</p>}
      {found && !faults.length && (
        <>
          <Screening found={found} />
          <WordingTool found={found} />
          <img class="drawing" src={`/api/visits/${visit}/plan.svg?kind=levels&s=${found.sha256}`} alt="Plan of the levels with contours" />
          <Areas found={found} unit={unit} />
          <Choice label="Criteria" value={set} change={setSet} options={[["", "As the book says"], ...sets.map((s): [string, string] => [s.id, s.title])]} />
          <Criteria found={found} unit={unit} />
          <h2>Report</h2>
          <button type="button" class="main wide" disabled={running} onClick={build}>Build the report</button>
          {job && (
            <p role="status">
              <progress max={job.of} value={job.done} aria-label="Progress of the report" />{" "}
              {job.state === "done" ? "The report is ready." : `Working: ${job.step || "waiting"}`}
            </p>
          )}
          {job?.state === "done" && (
            <ul class="files">
              {FILES.map(([ending, words]) => (
                <li key={ending}><a class="button" href={`/api/visits/${visit}/report.${ending}${query}`} download={`report.${ending}`}>{words}</a></li>
              ))}
              <li><a class="button" href={`/api/visits/${visit}/report.html${query}`} target="_blank" rel="noreferrer">Preview in a new tab</a></li>
            </ul>
          )}
          <p><a href={`#/${visit}/export`}>Files for others</a>: the engineer’s package, workbook, drawings, tables.</p>
        </>
      )}
    </>
  );
}

async function run(visit: string, query: string, tell: (job: Job) => void): Promise<void> {
  const { job } = await ask<{ job: string }>(`/api/visits/${visit}/report${query}`, { method: "POST" });
  for (;;) {
    const now = await ask<Job>(`/api/jobs/${job}`);
    if (now.state === "failed") throw new Error(now.problem || "The report could not be built.");
    tell(now);
    if (now.state === "done") return;
    await new Promise((resolve) => setTimeout(resolve, 250));
  }
}
