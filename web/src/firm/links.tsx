/** The addresses by which clients see a release: made, told, sent, counted, ended. */

import { useState } from "preact/hooks";

import { ask, send } from "../api";
import { Choice } from "../parts";
import { day, moment, useAsked, useWork, type Work } from "./asking";
import { Box, Copied, Sure, Told } from "./parts";

interface Link {
  readonly id: string;
  readonly created: string;
  readonly expires: string;
  readonly revoked: string | null;
  readonly earlier: boolean;
  readonly views: number;
  readonly viewed: string | null;
  readonly open: boolean;
}

interface Made extends Link {
  readonly address: string;
  readonly shows: readonly { readonly name: string; readonly date: string }[];
}

interface Mail {
  readonly sent: boolean;
  readonly to: string;
  readonly subject: string;
  readonly body: string;
}

const DAYS = [["30", "30 days"], ["90", "90 days"], ["365", "A year"], ["730", "Two years"]] as const;
type Days = (typeof DAYS)[number][0];

interface LinkToolProps {
  readonly release: string;
  readonly make: boolean;
  readonly revoke: boolean;
}

export function LinkTool({ release, make, revoke }: LinkToolProps) {
  const { found, told, again } = useAsked<{ links: Link[] }>(`/api/releases/${release}/links`);
  const [made, setMade] = useState<Made | null>(null);
  const doing = useWork();
  const links = found?.links ?? [];
  const end = (id: string): void => doing.work(async () => {
    await ask(`/api/links/${id}`, { method: "DELETE" });
    if (made?.id === id) setMade(null);
    again();
  });
  return (
    <div class="links">
      <h4>Addresses for clients</h4>
      <Told>{told || doing.told}</Told>
      {made && <Fresh made={made} />}
      {found && links.length === 0 && !made && <p class="small">{make ? "None yet." : revoke ? "None was made." : "None. A reviewer or an owner makes them."}</p>}
      <ul class="list">
        {links.map((each, number) => (
          <li key={each.id}>
            <span class="grow">{standing(each)}<br /><small>{views(each)}{each.earlier ? " · with earlier visits" : ""}</small></span>
            {revoke && each.open && (
              <Sure label="End it" name={`End address ${links.length - number}`} busy={doing.busy} yes="End it for good" then={() => end(each.id)}
                asks="Whoever has this address sees nothing any more. It cannot be opened again; you can make another." />
            )}
          </li>
        ))}
      </ul>
      {make && <Maker release={release} doing={doing} then={(fresh) => { setMade(fresh); again(); }} />}
    </div>
  );
}

interface MakerProps {
  readonly release: string;
  readonly doing: Work;
  readonly then: (made: Made) => void;
}

function Maker({ release, doing, then }: MakerProps) {
  const [days, setDays] = useState<Days>("90");
  const [earlier, setEarlier] = useState(false);
  const make = (): void => doing.work(async () => then(await send<Made>(`/api/releases/${release}/links`, { days: Number(days), earlier })));
  return (
    <details>
      <summary>New address for a client</summary>
      <Choice label="Works for" value={days} change={setDays} options={DAYS} />
      <label class="option"><input type="checkbox" checked={earlier} onChange={(event) => setEarlier(event.currentTarget.checked)} /> Show earlier released visits to this house, too</label>
      {earlier && <p class="small">They may have been made for somebody else, such as an earlier owner. Which visits show is told with the address: look before you send it.</p>}
      <button type="button" class="main" disabled={doing.busy} onClick={make}>Make the address</button>
    </details>
  );
}

/** An address that was made just now: it is told this once. */
function Fresh({ made }: { readonly made: Made }) {
  const [to, setTo] = useState("");
  const [mail, setMail] = useState<Mail | null>(null);
  const { busy, told, work } = useWork();
  const post = (): void => work(async () => setMail(await send<Mail>(`/api/links/${made.id}/mail`, { to: to.trim(), address: made.address })));
  return (
    <div class="note" role="group" aria-label="The new address">
      <p>It is told this once: copy or send it now. It works until {day(made.expires)}, without an account.</p>
      <Copied label="Address for the client" text={made.address} lines={3} />
      {made.earlier && made.shows.length === 0 && <p class="small">No earlier released visit has the address of this house, so none shows.</p>}
      {made.shows.length > 0 && <p class="small">Shows earlier visits, too: {made.shows.map((each) => `${each.name} (${day(each.date)})`).join(", ")}</p>}
      <Box label="Client’s e-mail address" type="email" value={to} change={setTo} />
      <Told>{told}</Told>
      <button type="button" disabled={busy || !to.trim()} onClick={post}>Send or write the e-mail</button>
      <div role="status">
        {mail?.sent && <p>Sent to {mail.to}.</p>}
        {mail && !mail.sent && (
          <>
            <p>This server sends no mail. Copy the text, or open it in your own mail program.</p>
            <Copied label={`Text: ${mail.subject}`} text={mail.body} lines={8} />
            <a class="button" href={`mailto:${encodeURIComponent(mail.to)}?subject=${encodeURIComponent(mail.subject)}&body=${encodeURIComponent(mail.body)}`}>Open in mail</a>
          </>
        )}
      </div>
    </div>
  );
}

function standing(each: Link): string {
  if (each.revoked) return `Ended on ${day(each.revoked)}`;
  return each.open ? `Works until ${day(each.expires)}` : `Ran out on ${day(each.expires)}`;
}

function views({ views: number, viewed }: Link): string {
  if (!number) return "Not opened yet";
  return `Opened ${number === 1 ? "once" : `${number} times`}${viewed ? `, last on ${moment(viewed)}` : ""}`;
}
