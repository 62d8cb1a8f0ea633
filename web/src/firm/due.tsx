/** What falls due: houses to visit again before their first year ends, and instruments to check. */

import { useState } from "preact/hooks";

import { Choice } from "../parts";
import { day, useAsked } from "./asking";
import { Told } from "./parts";

interface Found {
  readonly visits: readonly { readonly visit: string; readonly label: string; readonly address: string; readonly day: string; readonly first_year: string; readonly come: string }[];
  readonly instruments: readonly { readonly id: string; readonly name: string; readonly serial: string; readonly due: string | null }[];
}

const SPANS = [["30", "30 days"], ["60", "60 days"], ["120", "120 days"], ["366", "A year"]] as const;

export function Due() {
  const [days, setDays] = useState<(typeof SPANS)[number][0]>("60");
  const { found, told } = useAsked<Found>(`/api/reminders?days=${days}`);
  return (
    <>
      <Choice label="Within" value={days} change={setDays} options={SPANS} />
      <Told>{told}</Told>
      {found && (
        <>
          <h2>Houses to visit again</h2>
          {found.visits.length === 0 && <p>None.</p>}
          <ul class="houses">
            {found.visits.map((each) => (
              <li key={each.visit}>
                <a href={`#/${each.visit}/report`}>
                  <strong>{each.label || "House without a name"}</strong>
                  <span>{each.address}</span>
                  <span>Visited {day(each.day)}. Come by {day(each.come)}; the first year ends {day(each.first_year)}.</span>
                </a>
              </li>
            ))}
          </ul>
          <p class="small">One year after the visit is a reminder only: the terms of a warranty govern its dates.</p>
          <h2>Instruments to check</h2>
          {found.instruments.length === 0 && <p>None.</p>}
          <ul class="list">
            {found.instruments.map((each) => (
              <li key={each.id}><a class="grow tall" href="#/instruments">{each.name}{each.serial && ` (${each.serial})`}</a><span>{each.due ? `due ${day(each.due)}` : "never checked"}</span></li>
            ))}
          </ul>
          <p><a class="button" href={`/api/reminders.ics?days=${days}`} download="levelbook-due.ics">Take into a calendar (.ics)</a></p>
        </>
      )}
    </>
  );
}
