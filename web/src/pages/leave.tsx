/** Before you leave: what is missing, and what a careful colleague would ask. */

import { fresh, live, waiting } from "../background";
import { single, text } from "../fields";
import { leaving } from "../leaving";
import { Note } from "../parts";
import { route } from "../route";
import { state } from "../visit";
import { unanswered } from "./questioned";

export function Leave() {
  const unit = text(single(state.value, "units"), "plan") === "m" ? "m" : "ft";
  const rows = leaving(state.value, live.value, unit, unanswered().length);
  const missing = rows.filter((row) => !row.good);
  const visit = route.value.visit;
  return (
    <>
      <h1>Before you leave</h1>
      {!fresh.value && <Note>The floor shown here is older than the last entries. It renews when the server is reached.</Note>}
      <p role="status">{missing.length === 0 ? "Nothing is missing that this page looks for." : `${missing.length} thing${missing.length > 1 ? "s" : ""} to look at.`}</p>
      <ul class="checks">
        {[...missing, ...rows.filter((row) => row.good)].map((row) => (
          <li key={row.key} class={row.good ? "good" : "open"}>
            <span aria-hidden="true">{row.good ? "✓" : "○"}</span>
            <span>{row.words}</span>
            {!row.good && <a class="button" href={`#/${visit}/${row.page}`} aria-label={`Go there: ${row.words}`}>Go there</a>}
          </li>
        ))}
        <li class={waiting.value ? "open" : "good"}>
          <span aria-hidden="true">{waiting.value ? "○" : "✓"}</span>
          <span>{waiting.value ? `${waiting.value === 1 ? "One entry is" : `${waiting.value} entries are`} only on this device so far` : "Everything is on the server"}</span>
        </li>
      </ul>
      {!!live.value?.faults.length && (
        <>
          <h2>What keeps the book from being used</h2>
          <ul class="list">{live.value.faults.map((f) => <li key={f.place + f.code}>{f.place}: {f.problem}; {f.remedy}</li>)}</ul>
        </>
      )}
      {!!live.value?.notices.length && (
        <>
          <h2>A careful colleague would ask</h2>
          <ul class="list">{live.value.notices.map((n) => <li key={n.place + n.code}>{n.sentence} {n.remedy}</li>)}</ul>
        </>
      )}
    </>
  );
}
