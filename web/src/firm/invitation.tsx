/** An invitation, or a reset: name and password, once. */

import { useState } from "preact/hooks";

import { send } from "../api";
import { route } from "../route";
import { day, useAsked, useWork } from "./asking";
import { deviceName } from "./device";
import { Fresh } from "./fresh";
import { renew, type Role } from "./here";
import { Box, Told } from "./parts";

interface Invited {
  readonly invitation: {
    readonly purpose: "join" | "reset";
    readonly email: string;
    readonly name: string;
    readonly role: Role;
    readonly expires: string;
    readonly firm: { readonly name: string };
  };
}

export function Invitation() {
  const token = route.value.rest;
  const { found, told } = useAsked<Invited>(`/api/invitations/${encodeURIComponent(token)}`);
  if (told) return <><Told>{told}</Told><p>An address works once and for some days only. Ask an owner of your firm for a new one.</p><p><a href="#/">Sign in</a></p></>;
  return found ? <Accept token={token} invited={found.invitation} /> : <p class="working">Looking…</p>;
}

function Accept({ token, invited }: { readonly token: string; readonly invited: Invited["invitation"] }) {
  const [name, setName] = useState(invited.name);
  const [password, setPassword] = useState("");
  const { busy, told, work } = useWork();
  const join = invited.purpose === "join";
  const submit = (event: Event): void => {
    event.preventDefault();
    work(async () => {
      if (!name.trim()) throw new Error("Fill in your name, as it stands on reports.");
      const { email } = await send<{ email: string }>(`/api/invitations/${encodeURIComponent(token)}`, { name: name.trim(), password });
      await send("/api/sign-in", { email, password, device: deviceName() });
      await renew();
      location.hash = "#/";
    });
  };
  return (
    <form class="narrow" onSubmit={submit} noValidate>
      {join
        ? <p>{invited.firm.name} invites {invited.email} as <strong>{invited.role}</strong>. The invitation is good until {day(invited.expires)}.</p>
        : <p>Set a new password for {invited.email} at {invited.firm.name}. All your devices were or will be signed out.</p>}
      <Told>{told}</Told>
      <Box label="Your name" value={name} change={setName} autocomplete="name" hint="As it stands on reports" />
      <Fresh value={password} change={setPassword} email={invited.email} about={[name, invited.name, invited.firm.name]} />
      <button type="submit" class="main wide" disabled={busy}>{join ? "Join" : "Set the password"}</button>
    </form>
  );
}
