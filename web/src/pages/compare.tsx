/** This visit held against another of the same house. */

import { useEffect, useState } from "preact/hooks";

import { ask, type VisitInfo } from "../api";
import { Choice, Note } from "../parts";
import { openVisit } from "../visit";
import { single, text } from "../fields";
import { state } from "../visit";

interface Compared {
  readonly statement: readonly string[];
  readonly caveats: readonly string[];
}

export function Compare() {
  const visit = openVisit.value;
  const [others, setOthers] = useState<readonly VisitInfo[] | null>(null);
  const [other, setOther] = useState("");
  const [found, setFound] = useState<Compared | null>(null);
  const [told, setTold] = useState("");
  const date = text(single(state.value, "visit"), "date");
  useEffect(() => {
    void ask<{ visits: VisitInfo[] }>("/api/visits?limit=500")
      .then(({ visits }) => setOthers(visits.filter((row) => row.id !== visit)))
      .catch(() => setTold("The server cannot be reached; visits are compared there."));
  }, [visit]);
  useEffect(() => {
    const chosen = others?.find((row) => row.id === other);
    setFound(null);
    if (!chosen) return;
    setTold("");
    const [earlier, later] = chosen.date <= date ? [chosen.id, visit] : [visit, chosen.id];
    ask<Compared>(`/api/visits/${earlier}/compare/${later}`).then(setFound).catch((error: Error) => setTold(error.message));
  }, [other, others]);
  return (
    <>
      <h1>Compare</h1>
      <p><a href={`#/${visit}/details`}>Back to the house</a></p>
      {told && <div role="alert"><Note kind="warn">{told}</Note></div>}
      {others?.length === 0 && <p>There is no other visit yet.</p>}
      {!!others?.length && (
        <Choice label="With which visit" value={other} change={setOther}
          options={[["", "Choose"], ...others.map((row): [string, string] => [row.id, `${row.date} · ${row.label}`])]} />
      )}
      {other && !found && !told && <p role="status">Comparing…</p>}
      {found && (
        <section class="outcome">
          <h2>What changed</h2>
          {found.statement.map((line) => <p key={line}>{line}</p>)}
          <h2>What this cannot tell</h2>
          <ul>{found.caveats.map((line) => <li key={line}>{line}</li>)}</ul>
        </section>
      )}
    </>
  );
}
