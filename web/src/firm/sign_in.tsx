/** Signing in; afterwards the page that was open is there again. */

import { useState } from "preact/hooks";

import { send } from "../api";
import { useWork } from "./asking";
import { deviceName } from "./device";
import { me, renew } from "./here";
import { Box, Secret, Told } from "./parts";
import { passkeys, signInByKey } from "./passkeys";

export function SignIn() {
  const [email, setEmail] = useState(me.value?.person.email ?? "");
  const [password, setPassword] = useState("");
  const [device, setDevice] = useState(deviceName());
  const { busy, told, work } = useWork();
  const submit = (event: Event): void => {
    event.preventDefault();
    work(async () => {
      if (!email.trim() || !password) throw new Error("Fill in your e-mail address and your password.");
      await send("/api/sign-in", { email: email.trim(), password, device: device.trim() });
      await renew();
    });
  };
  const byKey = (): void => work(async () => {
    await signInByKey(device.trim());
    await renew();
  });
  return (
    <form class="narrow" onSubmit={submit} noValidate>
      {me.value && <p>What {me.value.person.name || me.value.person.email} wrote on this device is still here, and goes on after signing in.</p>}
      <Told>{told}</Told>
      <Box label="E-mail address" type="email" value={email} change={setEmail} autocomplete="username" />
      <Secret label="Password" value={password} change={setPassword} autocomplete="current-password" />
      <Box label="Name of this device" value={device} change={setDevice} hint="So that you know it in the list of your devices" />
      <button type="submit" class="main wide" disabled={busy}>Sign in</button>
      {passkeys && <p><button type="button" class="wide" disabled={busy} onClick={byKey}>Use a passkey</button></p>}
      <p class="small">No account, or the password forgotten? Ask an owner of your firm for an address to begin with.</p>
    </form>
  );
}
