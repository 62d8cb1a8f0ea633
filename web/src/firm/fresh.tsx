/** A new password, with a word on how hard it looks to guess. */

import { Secret } from "./parts";
import { strengthOf } from "./strength";

const ASKED = "12 to 128 characters; a few words that do not belong together are good. Without your name, e-mail address or firm, without rows of letters or digits, and no common password.";

interface FreshProps {
  readonly value: string;
  readonly change: (to: string) => void;
  /** Whose it is: for the browser's own store of passwords. */
  readonly email: string;
  /** What others know of the person. */
  readonly about: readonly string[];
}

export function Fresh({ value, change, email, about }: FreshProps) {
  const found = value ? strengthOf(value, [email, ...about]) : null;
  return (
    <>
      <input class="unseen" type="text" name="username" autocomplete="username" value={email} readOnly tabIndex={-1} aria-hidden="true" />
      <Secret label="New password" value={value} change={change} autocomplete="new-password" hint={ASKED} />
      <p class={`strength s${found?.level ?? 0}`} role="status">
        {found && <><span class="bars" aria-hidden="true"><i /><i /><i /></span> {found.words}</>}
      </p>
    </>
  );
}
