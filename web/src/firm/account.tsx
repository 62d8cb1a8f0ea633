/** One's own account: password, passkeys, devices, colours, signing out. */

import { useState } from "preact/hooks";

import { ask, send } from "../api";
import { Choice } from "../parts";
import { setTheme, theme, type Theme } from "../theme";
import { day, useAsked, useWork } from "./asking";
import { deviceName } from "./device";
import { Devices } from "./devices";
import { Fresh } from "./fresh";
import { forget, me } from "./here";
import { sendAll } from "./leaving";
import { Box, Card, Secret, Sure, Told } from "./parts";
import { addKey, passkeys } from "./passkeys";

export function Account() {
  const person = me.value?.person;
  return (
    <>
      <p><strong>{person?.name}</strong> · {person?.email}<br />{person?.role} at {me.value?.firm.name}</p>
      <SignOut />
      <Card title="Your devices"><Devices /></Card>
      <Card title="Password"><Password /></Card>
      <Card title="Passkeys"><Passkeys /></Card>
      <Choice label="Colours" value={theme.value} change={(to) => setTheme(to as Theme)}
        options={[["light", "Light"], ["dark", "Dark"], ["sun", "Sunlight: black on white, heavier"]]} />
    </>
  );
}

function SignOut() {
  const [left, setLeft] = useState(-1);
  const { busy, told, work } = useWork();
  const look = (): void => work(async () => setLeft(await sendAll()));
  const leave = (clear: boolean): void => work(async () => {
    await send("/api/sign-out");
    await forget(clear);
  });
  return (
    <>
      <Told>{told}</Told>
      {left < 0 && <button type="button" disabled={busy} onClick={look}>Sign out</button>}
      {left > 0 && (
        <div class="note warn" role="alert">
          <p>{left === 1 ? "One entry waits" : `${left} entries and photographs wait`} on this device to be sent. They stay here, seen by nobody else, and are sent after your next sign-in on this device.</p>
          <div class="row">
            <button type="button" disabled={busy} onClick={() => leave(false)}>Sign out all the same</button>
            <button type="button" class="main" onClick={() => setLeft(-1)}>Stay signed in</button>
          </div>
        </div>
      )}
      {left === 0 && (
        <div class="note" role="group" aria-label="Sign out">
          <p>Everything is on the server.</p>
          <div class="row">
            <button type="button" class="main" disabled={busy} onClick={() => leave(true)}>Sign out and clear my houses from this device</button>
            <button type="button" disabled={busy} onClick={() => leave(false)}>Sign out and keep them for next time</button>
            <button type="button" onClick={() => setLeft(-1)}>Stay signed in</button>
          </div>
        </div>
      )}
    </>
  );
}

function Password() {
  const [old, setOld] = useState("");
  const [fresh, setFresh] = useState("");
  const [done, setDone] = useState(false);
  const { busy, told, work } = useWork();
  const change = (event: Event): void => {
    event.preventDefault();
    setDone(false);
    work(async () => {
      await send("/api/password", { old, new: fresh });
      setOld("");
      setFresh("");
      setDone(true);
    });
  };
  return (
    <form onSubmit={change} noValidate>
      <Told>{told}</Told>
      <Secret label="Password until now" value={old} change={setOld} autocomplete="current-password" />
      <Fresh value={fresh} change={setFresh} email={me.value?.person.email ?? ""} about={[me.value?.person.name ?? "", me.value?.firm.name ?? ""]} />
      <button type="submit" disabled={busy}>Change it</button>
      <p role="status">{done && "Changed. Every other device is signed out."}</p>
    </form>
  );
}

interface Key {
  readonly id: string;
  readonly name: string;
  readonly created: string;
  readonly used: string | null;
}

function Passkeys() {
  const { found, told, again } = useAsked<{ passkeys: Key[] }>("/api/passkeys");
  const [name, setName] = useState(deviceName());
  const doing = useWork();
  return (
    <>
      <p class="small">A passkey opens your account by finger, face or PIN. It cannot be guessed, and works at this address alone.</p>
      <Told>{told || doing.told}</Told>
      <ul class="list">
        {found?.passkeys.map((each) => (
          <li key={each.id}>
            <span class="grow">{each.name || "A passkey without a name"}<br /><small>since {day(each.created)}{each.used ? `, last used ${day(each.used)}` : ", not used yet"}</small></span>
            <Sure label="Remove" name={`Remove the passkey ${each.name}`} yes="Remove it" busy={doing.busy} asks="It opens nothing here any more."
              then={() => doing.work(async () => { await ask(`/api/passkeys/${each.id}`, { method: "DELETE" }); again(); })} />
          </li>
        ))}
      </ul>
      {passkeys
        ? <>
          <Box label="Name of the passkey" value={name} change={setName} />
          <button type="button" disabled={doing.busy} onClick={() => doing.work(async () => { await addKey(name.trim()); again(); })}>Add a passkey on this device</button>
        </>
        : <p>This browser has none at this address. They need https.</p>}
    </>
  );
}
