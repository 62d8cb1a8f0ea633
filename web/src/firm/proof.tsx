/** Asking for password or passkey again, before what is most serious is done. */

import { useEffect, useId, useRef, useState } from "preact/hooks";

import { onProof, send } from "../api";
import { useWork } from "./asking";
import { me } from "./here";
import { Secret, Told } from "./parts";
import { passkeys, proveByKey } from "./passkeys";

export function Proof() {
  const id = useId();
  const dialog = useRef<HTMLDialogElement>(null);
  const waiting = useRef<((proved: boolean) => void)[]>([]);
  const [open, setOpen] = useState(false);
  const [password, setPassword] = useState("");
  const { busy, told, work } = useWork();
  useEffect(() => onProof(() => new Promise((done) => {
    waiting.current.push(done);
    setOpen(true);
  })), []);
  useEffect(() => {
    if (!open || dialog.current?.open) return;
    dialog.current?.showModal();
    dialog.current?.querySelector<HTMLInputElement>(".secret input")?.focus();
  }, [open]);
  const end = (proved: boolean): void => {
    dialog.current?.close();
    setOpen(false);
    setPassword("");
    for (const done of waiting.current.splice(0)) done(proved);
  };
  const prove = (job: () => Promise<unknown>): void => work(async () => {
    await job();
    end(true);
  });
  const submit = (event: Event): void => {
    event.preventDefault();
    prove(async () => {
      if (!password) throw new Error("Fill in your password.");
      await send("/api/prove", { password });
    });
  };
  return (
    <dialog ref={dialog} class="proof" aria-labelledby={id} onClose={() => open && end(false)}>
      {open && (
        <form onSubmit={submit} noValidate>
          <h2 id={id}>Is it you?</h2>
          <p>This is asked again because you gave your password or passkey here more than 15 minutes ago.</p>
          <Told>{told}</Told>
          <input class="unseen" type="text" name="username" autocomplete="username" value={me.value?.person.email ?? ""} readOnly tabIndex={-1} aria-hidden="true" />
          <Secret label="Your password" value={password} change={setPassword} autocomplete="current-password" />
          <div class="row">
            <button type="submit" class="main" disabled={busy}>Go on</button>
            {passkeys && <button type="button" disabled={busy} onClick={() => prove(proveByKey)}>Use a passkey</button>}
            <button type="button" onClick={() => end(false)}>Leave it</button>
          </div>
        </form>
      )}
    </dialog>
  );
}
