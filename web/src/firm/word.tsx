/** Word of what changed in one's own way in, on every page until it is read. */

import { moment, useWork } from "./asking";
import { type Change, changes, readChanges } from "./changed";
import { Told } from "./parts";

const AT_ONCE = 3;

export function Word() {
  const { busy, told, work } = useWork();
  const [first, rest] = [changes.value.slice(0, AT_ONCE), changes.value.slice(AT_ONCE)];
  return (
    <section class="note warn word" aria-label="Changes to how you sign in">
      <div role="alert"><Sentences of={first} /></div>
      {rest.length > 0 && <details><summary>{rest.length} more</summary><Sentences of={rest} /></details>}
      <p>If it was not you, change your password under <a href="#/account">Account</a>, sign all other devices out there, and tell an owner of your firm.</p>
      <Told>{told}</Told>
      <button type="button" disabled={busy} onClick={() => work(readChanges)}>I have read this</button>
    </section>
  );
}

function Sentences({ of }: { readonly of: readonly Change[] }) {
  return <ul>{of.map((each) => <li key={each.seq}>{sentence(each)}</li>)}</ul>;
}

const WHAT: { readonly [action: string]: string } = {
  "password changed": "Your password was changed",
  "password reset": "Your password was set anew, and every passkey was removed,",
  "reset started": "An address was made by which your password can be set anew",
  "passkey added": "A passkey was added to your account",
  "passkey removed": "A passkey was removed from your account",
};

/** One change as a sentence: what, when, by whom, on which device. */
export function sentence(each: Change): string {
  const device = each.device ? `, on the device ${each.device}` : "";
  return `${WHAT[each.what] ?? each.what} on ${moment(each.at)}, ${byWhom(each)}${device}.`;
}

function byWhom({ what, own, by }: Change): string {
  if (what === "password reset") return "by whoever had the address for it";
  if (own) return "by you or somebody signed in as you";
  return by ? `by ${by}` : "by whoever runs the server";
}
