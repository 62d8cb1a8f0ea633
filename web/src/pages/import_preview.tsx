/** What an import would take, what it took for granted, and what it leaves, with the reasons. */

import type { Plan } from "../importing";

const ROLES: { readonly [role: string]: string } = {
  value: "reading", station: "station", x: "place across (x)", y: "place up (y)", finish: "finish", setup: "setup",
  time: "time", note: "note", struck: "struck", instead: "replaced by", area: "floor", moved: "moved", id: "reading's name",
};
const TITLES = ["Station", "Reading", "Place (x, y)", "Finish", "Note"] as const;

export function Preview({ plan }: { readonly plan: Plan }) {
  const used = plan.columns.filter((column) => column.role && ROLES[column.role]);
  const unused = plan.columns.filter((column) => !column.role && column.title);
  return (
    <div class="preview">
      {used.length > 0 && (
        <p class="small">
          {used.map((column) => `${column.letter}${column.title ? ` “${column.title}”` : ""}: ${ROLES[column.role ?? ""]}`).join(" · ")}
          {unused.length > 0 && <> · not taken: {unused.map((column) => `${column.letter} “${column.title}”`).join(", ")}</>}
        </p>
      )}
      {plan.rows.length > 0 && <Rows rows={plan.rows} />}
      {[...plan.taken, ...plan.assumed].length > 0 && (
        <ul class="sentences">{[...plan.taken, ...plan.assumed].map((line) => <li key={line}>{line}</li>)}</ul>
      )}
      {plan.left_count > 0 && (
        <details open={plan.left_count <= 5}>
          <summary>Not taken: {plan.left_count}</summary>
          <ul class="list">
            {plan.left.map((left, i) => (
              <li key={i}><span class="grow"><b>{left.place}</b>: {left.what} <small>{left.why}</small></span></li>
            ))}
          </ul>
          {plan.left.length < plan.left_count && <p class="small">and {plan.left_count - plan.left.length} more</p>}
        </details>
      )}
    </div>
  );
}

/** The first rows as they would be taken. */
function Rows({ rows }: { readonly rows: Plan["rows"] }) {
  const shown = rows.map(([, station = "", finish = "", value = "", unit = "", note = "", place = ""]) => [station, `${value}${unit ? ` ${unit}` : ""}`, place, finish, note]);
  const kept = TITLES.map((_, i) => i < 2 || shown.some((row) => row[i]));
  return (
    <div class="scroll" tabIndex={0} role="region" aria-label="The first rows as they would be taken">
      <table>
        <caption class="small">The first rows as they would be taken</caption>
        <thead><tr>{TITLES.map((title, i) => kept[i] && <th key={title} scope="col">{title}</th>)}</tr></thead>
        <tbody>{shown.map((row, i) => <tr key={i}>{row.map((cell, j) => kept[j] && <td key={j} class={j === 1 ? "value" : ""}>{cell}</td>)}</tr>)}</tbody>
      </table>
    </div>
  );
}
