/** The firm's people: for everyone to read, for owners to invite and look after. */

import { useState } from "preact/hooks";

import { send } from "../api";
import { Choice } from "../parts";
import { day, useAsked, useWork } from "./asking";
import { Devices } from "./devices";
import { me, type Role } from "./here";
import { Box, Card, Copied, Sure, Told } from "./parts";

interface Person {
  readonly id: string;
  readonly name: string;
  readonly role: Role;
  readonly email?: string;
  readonly disabled?: string | null;
}

interface Found {
  readonly people: readonly Person[];
  readonly invitations: readonly { readonly email: string; readonly name: string; readonly role: Role; readonly expires: string }[];
}

const ROLES: readonly (readonly [Role, string])[] = [
  ["surveyor", "Surveyor: writes visits, asks for review"],
  ["reviewer", "Reviewer: also releases, and sends addresses to clients"],
  ["owner", "Owner: also people, instruments and the list of what was done"],
];

export function People() {
  const { found, told, again } = useAsked<Found>("/api/people");
  const owner = me.value?.person.role === "owner";
  return (
    <>
      <Told>{told}</Told>
      {found?.people.map((each) => owner
        ? <One key={each.id} each={each} again={again} />
        : <p key={each.id} class="card">{each.name} · {each.role}</p>)}
      {owner && found && found.invitations.length > 0 && (
        <>
          <h2>Invited, not here yet</h2>
          <ul class="list">
            {found.invitations.map((each) => <li key={each.email}><span class="grow">{[each.name, each.email, each.role].filter(Boolean).join(" · ")}</span><small>until {day(each.expires)}</small></li>)}
          </ul>
        </>
      )}
      {owner && <Inviter again={again} />}
    </>
  );
}

function One({ each, again }: { readonly each: Person; readonly again: () => void }) {
  const { busy, told, work } = useWork();
  const [token, setToken] = useState("");
  const name = each.name || each.email || "";
  const self = each.id === me.value?.person.id;
  const change = (body: object): void => work(async () => { await send(`/api/people/${each.id}`, body); again(); });
  const reset = (): void => work(async () => setToken((await send<{ token: string }>(`/api/people/${each.id}/reset`)).token));
  return (
    <section class="card" aria-label={name}>
      <h2>{name}{self && <small> · you</small>}</h2>
      <p>{each.email} {each.disabled && <span class="state beyond"><span aria-hidden="true">▲</span> Shut out since {day(each.disabled)}</span>}</p>
      <Told>{told}</Told>
      <Choice label={`Role of ${name}`} value={each.role} change={(role) => change({ role })} options={ROLES} />
      {token && <Copied label={`Address by which ${name} sets a new password, once, within a day`} text={addressOf(token)} lines={3} />}
      <div class="row">
        {!each.disabled && <Sure label="Reset the password" name={`Reset the password of ${name}`} yes="Make the address" busy={busy} asks="You get an address to give to this person alone. When it is used, all their devices are signed out and their passkeys removed." then={reset} />}
        {each.disabled
          ? <button type="button" disabled={busy} onClick={() => change({ disabled: false })}>Let in again</button>
          : !self && <Sure label="Shut out" name={`Shut ${name} out`} yes="Shut out" busy={busy} asks="All their devices are signed out at once. What they wrote stays, with their name." then={() => change({ disabled: true })} />}
      </div>
      {!self && <details><summary>Devices of {name}</summary><Devices person={each.id} /></details>}
    </section>
  );
}

function Inviter({ again }: { readonly again: () => void }) {
  const [email, setEmail] = useState("");
  const [name, setName] = useState("");
  const [role, setRole] = useState<Role>("surveyor");
  const [token, setToken] = useState("");
  const { busy, told, work } = useWork();
  const invite = (event: Event): void => {
    event.preventDefault();
    work(async () => {
      if (!email.trim()) throw new Error("Fill in the e-mail address.");
      setToken((await send<{ token: string }>("/api/invitations", { email: email.trim(), name: name.trim(), role })).token);
      setEmail("");
      setName("");
      again();
    });
  };
  return (
    <Card title="Invite somebody">
      <form onSubmit={invite} noValidate>
        <Told>{told}</Told>
        <Box label="E-mail address" type="email" value={email} change={setEmail} />
        <Box label="Name" value={name} change={setName} />
        <Choice label="Role" value={role} change={setRole} options={ROLES} />
        <button type="submit" class="main" disabled={busy}>Invite</button>
      </form>
      {token && <div class="note"><Copied label="Address to send to them: it works once, for seven days, and is told this once" text={addressOf(token)} lines={3} /></div>}
    </Card>
  );
}

function addressOf(token: string): string {
  return `${location.origin}/#/invitation/${token}`;
}
