/** Bringing in what was written elsewhere: drop, choose or paste it, answer what is unclear, take it. */

import { useEffect, useRef, useState } from "preact/hooks";

import { ServerError } from "../api";
import { link, waiting } from "../background";
import { imports, LARGEST, preview, take, takeBack, type Answers, type Files, type Plan, type Question } from "../importing";
import { Note } from "../parts";
import { setSheet } from "../plan/sheet";
import { go, route } from "../route";
import { entries } from "../visit";
import "./exchange.css";
import { NewHouse } from "./houses";
import { Preview } from "./import_preview";
import { Given, Questions } from "./import_questions";

/** A file on its way from the first page into a house that was begun for it. */
let carried: File | null = null;

export function Importing() {
  const visit = route.value.visit;
  const [files, setFiles] = useState<Files | null>(null);
  const [answers, setAnswers] = useState<Answers>({});
  const [asked, setAsked] = useState<{ readonly [key: string]: Question }>({});
  const [plan, setPlan] = useState<Plan | null>(null);
  const [told, setTold] = useState("");
  const [house, setHouse] = useState("");
  const [done, setDone] = useState<readonly string[]>([]);
  const [working, setWorking] = useState(false);
  const result = useRef<HTMLDivElement>(null);
  const sent = !visit || (waiting.value === 0 && link.value === "saved");

  const begin = (file: File): void => {
    setPlan(null);
    setAnswers({});
    setDone([]);
    setHouse("");
    setTold(file.size > LARGEST ? "This file is larger than 40 MB. Take the table alone, or split it." : file.size ? "" : "This file is empty.");
    setFiles(file.size && file.size <= LARGEST ? { file } : null);
  };
  useEffect(() => {
    if (visit && carried) begin(carried);
    if (visit) carried = null;
    const pasted = (event: ClipboardEvent): void => {
      if (event.target instanceof HTMLTextAreaElement || event.target instanceof HTMLInputElement) return;
      const file = event.clipboardData?.files[0];
      const words = event.clipboardData?.getData("text/plain") ?? "";
      if (file) begin(file);
      else if (words.trim()) begin(asFile(words));
    };
    document.addEventListener("paste", pasted);
    return () => document.removeEventListener("paste", pasted);
  }, [visit]);
  useEffect(() => {
    if (!files || !sent) return undefined;
    if (isPicture(files.file)) {
      setHouse(visit ? "" : "picture");
      return undefined;
    }
    let current = true;
    setWorking(true);
    setTold("");
    preview(files, answers, visit).then((found) => {
      if (!current) return;
      setPlan(found);
      setAsked((before) => ({ ...before, ...Object.fromEntries(found.questions.map((q) => [q.key, q])) }));
      requestAnimationFrame(() => result.current?.focus({ preventScroll: true }));
    }).catch((error: Error) => {
      if (!current) return;
      setPlan(null);
      if (error instanceof ServerError && error.told?.code === "outline" && !visit && !files.outline) setHouse("outline");
      else setTold(inWords(error));
    }).finally(() => { if (current) setWorking(false); });
    return () => { current = false; };
  }, [files, answers, visit, sent]);

  const finish = (): void => {
    if (!files || !plan) return;
    setWorking(true);
    take(files, answers, visit).then((taken) => {
      if (visit) {
        setDone([...plan.taken, ...(plan.left_count ? [`Not taken: ${plan.left_count}, as told before.`] : [])]);
        setFiles(null);
        setPlan(null);
      } else go(taken, plan.kind === "book" ? "report" : "plan");
    }).catch((error: Error) => setTold(inWords(error))).finally(() => setWorking(false));
  };
  const trace = (): void => {
    if (files) setSheet(files.file, files.file.name).then(() => go(visit, "plan")).catch((error: Error) => setTold(error.message));
  };
  const begun = (fresh: string): void => {
    carried = files?.file ?? null;
    go(fresh, "import");
  };
  return (
    <div class="import">
      {visit && <h1>Bring in</h1>}
      {!files && <Choose begin={begin} />}
      {done.length > 0 && (
        <div class="note good" role="status">
          {done.map((line) => <p key={line}>{line}</p>)}
          <a class="button" href={`#/${visit}/plan`}>See the plan</a>
        </div>
      )}
      {files && (
        <p class="row file">
          <b class="grow">{files.file.name}</b>
          <button type="button" onClick={() => { setFiles(null); setPlan(null); setTold(""); setHouse(""); }}>Another file</button>
        </p>
      )}
      {!sent && <Note>Waiting until everything is on the server.</Note>}
      {told && <div role="alert"><Note kind="warn">{told}</Note></div>}
      {working && <p class="working" role="status">Reading…</p>}
      {files && visit && isPicture(files.file) && (
        <>
          <Note>This is a picture. It can lie under the plan as a sheet to be traced over; no numbers are read from it.</Note>
          <button type="button" class="main wide" onClick={trace}>Put it under the plan</button>
        </>
      )}
      {house && (
        <>
          <Note>{house === "picture" ? "This is a picture to trace over." : "This is an outline without readings."} Begin the house that it is of.</Note>
          <NewHouse then={begun} />
        </>
      )}
      {plan && files && (
        <div ref={result} tabIndex={-1} class="result" aria-busy={working}>
          {plan.ready && (
            <button type="button" class="main wide" disabled={working} onClick={finish}>{visit ? "Take this into the house" : "Make a house of this"}</button>
          )}
          {plan.questions.length > 0 && <Questions key={plan.questions.map((q) => q.key).join()} questions={plan.questions} answer={(more) => setAnswers({ ...answers, ...more })} />}
          <Preview plan={plan} />
          <Given answers={answers} asked={asked} forget={(key) => setAnswers(Object.fromEntries(Object.entries(answers).filter(([k]) => k !== key)))} />
          {plan.kind !== "book" && plan.kind !== "outlines" && <Beside files={files} set={setFiles} outlined={!visit} />}
        </div>
      )}
      {!files && visit && <EarlierImports />}
    </div>
  );
}

/** Where a file is dropped, chosen or pasted. */
function Choose({ begin }: { readonly begin: (file: File) => void }) {
  const [over, setOver] = useState(false);
  const [pasting, setPasting] = useState(false);
  const [words, setWords] = useState("");
  const drop = (event: DragEvent): void => {
    event.preventDefault();
    setOver(false);
    const file = event.dataTransfer?.files[0];
    const text = event.dataTransfer?.getData("text/plain") ?? "";
    if (file) begin(file);
    else if (text.trim()) begin(asFile(text));
  };
  return (
    <>
      <div class={over ? "drop over" : "drop"} onDragOver={(event) => { event.preventDefault(); setOver(true); }} onDragLeave={() => setOver(false)} onDrop={drop}>
        <p>Drop a file here, or</p>
        <div class="row">
          <label class="button main">Choose a file
            <input type="file" class="hidden" onChange={(event) => { const file = event.currentTarget.files?.[0]; if (file) begin(file); }} />
          </label>
          <button type="button" aria-expanded={pasting} onClick={() => setPasting(!pasting)}>Paste or type rows</button>
        </div>
        {pasting && (
          <form class="paste" onSubmit={(event) => { event.preventDefault(); if (words.trim()) begin(asFile(words)); }}>
            <label for="rows">Rows as copied from a spreadsheet, or numbers as they stand on the sketch, row by row</label>
            <textarea id="rows" rows={8} value={words} onInput={(event) => setWords(event.currentTarget.value)} spellcheck={false} />
            <button type="submit" class="main" disabled={!words.trim()}>Look at it</button>
          </form>
        )}
      </div>
      <dl class="kinds">
        <div><dt>Readings</dt><dd>a table or a sketch typed into cells: CSV, TSV, XLSX, ODS</dd></div>
        <div><dt>A whole house</dt><dd>a level book, an engineer’s package, a report PDF or a workbook of this program</dd></div>
        <div><dt>A floor’s outline</dt><dd>DXF, SVG or GeoJSON</dd></div>
        <div><dt>A sketch or plan</dt><dd>a photograph or scan to trace over: JPEG or PNG</dd></div>
      </dl>
      <p class="small">What is unclear is asked before anything is taken, and it can be taken back.</p>
    </>
  );
}

/** Further files that a table of readings may need. */
function Beside({ files, set, outlined }: { readonly files: Files; readonly set: (files: Files) => void; readonly outlined: boolean }) {
  return (
    <details class="beside">
      <summary>Further files for this table</summary>
      <div class="row">
        {outlined && (
          <label class="button">{files.outline ? `Outline: ${files.outline.name}` : "The floor’s outline"}
            <input type="file" class="hidden" accept=".dxf,.svg,.geojson,.json" onChange={(event) => { const outline = event.currentTarget.files?.[0]; if (outline?.size) set({ ...files, outline }); }} />
          </label>
        )}
        <label class="button">{files.places ? `Places: ${files.places.name}` : "A table of the stations’ places"}
          <input type="file" class="hidden" onChange={(event) => { const places = event.currentTarget.files?.[0]; if (places?.size) set({ ...files, places }); }} />
        </label>
      </div>
    </details>
  );
}

/** What was brought in before, each with its way back. */
function EarlierImports() {
  const found = imports(entries.value);
  if (!found.length) return null;
  return (
    <>
      <h2>Brought in before</h2>
      <ul class="list">
        {found.map((each) => (
          <li key={each.made}>
            <span class="grow">{each.name} <small>{new Date(each.made).toLocaleString()}</small></span>
            <button type="button" onClick={() => void takeBack(each)} aria-label={`Take back: ${each.name}`}>Take back</button>
          </li>
        ))}
      </ul>
      <p class="small">Readings that are taken back stay in the book, struck; everything else is as before.</p>
    </>
  );
}

function asFile(words: string): File {
  return new File([words], "pasted text", { type: "text/plain" });
}

function isPicture(file: File): boolean {
  return file.type.startsWith("image/") && !/svg|dxf|dwg/.test(file.type);
}

function inWords(error: Error): string {
  if (!(error instanceof ServerError)) return "The server cannot be reached; bringing a file in needs it.";
  const faults = error.faults.slice(0, 5).map((f) => `${f.place}: ${f.problem}; ${f.remedy}.`);
  return faults.length ? faults.join(" ") : error.message;
}
