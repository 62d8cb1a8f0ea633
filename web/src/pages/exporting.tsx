/** Files for others: what each is for, how large it is, and where to get it. */

import { useEffect, useState } from "preact/hooks";

import { ask, type Problem, ServerError } from "../api";
import { link, sync, waiting } from "../background";
import { Choice, Note } from "../parts";
import { entries, openVisit } from "../visit";
import "./exchange.css";

interface Made {
  readonly file: string;
  readonly bytes: number;
}

type Format = readonly [key: string, name: string, says: string];
const GROUPS: readonly (readonly [string, readonly Format[]])[] = [
  ["For an engineer", [
    ["package", "The engineer’s package (ZIP)", "Everything below in one file, with the report, photographs, criteria, a guide and checksums"],
    ["xlsx", "Workbook with live formulas (XLSX)", "Each reading’s way to its level; change a correction and every level follows"],
    ["landxml", "Survey points and surface (LandXML)", "For survey and civil programs"],
  ]],
  ["Drawings", [
    ["dxf", "Drawing (DXF)", "Plan in real units, on layers: outline, levels as text and 3D points, contours"],
    ["svg", "Picture that scales (SVG)", "The plan for a web page or a drawing program"],
    ["png", "Picture (PNG)", "The plan for a letter or a slide"],
    ["geojson", "Map features (GeoJSON)", "Stations, outlines and contours in plan coordinates, for map programs"],
  ]],
  ["Tables and the record", [
    ["readings.csv", "Readings (CSV)", "Each reading as written, with its corrections"],
    ["levels.csv", "Levels (CSV)", "Each station with its level and how sure it is"],
    ["book", "Level book (JSON)", "What was written down, from which everything else follows; this program opens it again"],
  ]],
];
const DRAWN = new Set(["svg", "png"]);

export function Exporting() {
  const visit = openVisit.value;
  const [drawing, setDrawing] = useState("levels");
  const [dpi, setDpi] = useState("200");
  const [sizes, setSizes] = useState<{ readonly [key: string]: Made }>({});
  const [faults, setFaults] = useState<readonly Problem[]>([]);
  const [told, setTold] = useState("");
  const sent = waiting.value === 0 && link.value === "saved";
  const query = (key: string): string => (DRAWN.has(key) ? `?drawing=${drawing}${key === "png" ? `&dpi=${dpi}` : ""}` : "");
  useEffect(() => {
    if (!sent) return sync();
    const stop = new AbortController();
    setTold("");
    setFaults([]);
    setSizes({});
    const measure = async (): Promise<void> => {
      for (const [key] of GROUPS.flatMap(([, formats]) => formats).sort((a, b) => Number(a[0] === "package") - Number(b[0] === "package"))) {
        const made = await ask<Made>(`/api/visits/${visit}/exports/${key}${query(key)}`, { signal: stop.signal });
        setSizes((before) => ({ ...before, [key]: made }));
      }
    };
    measure().catch((error: Error) => {
      if (stop.signal.aborted) return;
      if (error instanceof ServerError && error.faults.length) setFaults(error.faults);
      else setTold(error instanceof ServerError ? error.message : "The server cannot be reached. Files are made there; what you write is kept here until then.");
    });
    return () => stop.abort();
  }, [visit, sent, entries.value.length, drawing, dpi]);
  return (
    <>
      <h1>Files for others</h1>
      {!sent && <Note>Waiting until everything is on the server.</Note>}
      {told && <div role="alert"><Note kind="warn">{told}</Note></div>}
      {faults.length > 0 && (
        <div class="note warn" role="alert">
          <p>There are no files of this house yet:</p>
          <ul>{faults.map((f) => <li key={f.place + f.code}>{f.place}: {f.problem}; {f.remedy}</li>)}</ul>
        </div>
      )}
      {faults.length === 0 && GROUPS.map(([title, formats]) => (
        <section key={title}>
          <h2>{title}</h2>
          {title === "Drawings" && (
            <div class="row fields">
              <Choice label="SVG and PNG show" value={drawing} change={setDrawing} options={[["levels", "the levels"], ["error", "how sure they are"], ["deflection", "the floor without its tilt"]]} />
              <Choice label="PNG: dots to the inch" value={dpi} change={setDpi} options={[["100", "100, for the screen"], ["200", "200, for a letter"], ["300", "300, for print"], ["600", "600, very fine"]]} />
            </div>
          )}
          <ul class="exports">
            {formats.map(([key, name, says]) => (
              <li key={key}>
                <span class="grow"><b>{name}</b><small>{says}</small></span>
                <a class="button" href={`/api/visits/${visit}/export/${key}${query(key)}`} download={sizes[key]?.file ?? ""} aria-label={`Download: ${name}`}>
                  Download<small class="size">{sizes[key] ? size(sizes[key].bytes) : sent ? "…" : ""}</small>
                </a>
              </li>
            ))}
          </ul>
        </section>
      ))}
      <p class="small">Levels carry how sure they are. They describe the floor; they are not engineering. <a href={`#/${visit}/report`}>Back to the findings</a></p>
    </>
  );
}

function size(bytes: number): string {
  if (bytes < 999_500) return `${Math.max(1, Math.round(bytes / 1000))} kB`;
  return `${(bytes / 1_000_000).toFixed(1)} MB`;
}
