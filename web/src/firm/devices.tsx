/** Where somebody is signed in, and signing devices out. */

import { ask } from "../api";
import { moment, useAsked, useWork } from "./asking";
import { Sure, Told } from "./parts";

interface Device {
  readonly id: string;
  readonly device: string;
  readonly created: string;
  readonly seen: string;
  readonly current: boolean;
}

export function Devices({ person = "" }: { readonly person?: string }) {
  const query = person ? `?person=${encodeURIComponent(person)}` : "";
  const { found, told, again } = useAsked<{ sessions: Device[] }>(`/api/sessions${query}`);
  const doing = useWork();
  const end = (id: string): void => doing.work(async () => { await ask(`/api/sessions/${id}${query}`, { method: "DELETE" }); again(); });
  const others = found?.sessions.filter((each) => !each.current) ?? [];
  return (
    <>
      <Told>{told || doing.told}</Told>
      {found?.sessions.length === 0 && <p>Signed in nowhere.</p>}
      <ul class="list">
        {found?.sessions.map((each) => (
          <li key={each.id}>
            <span class="grow">{each.device || "A device without a name"}{each.current && " · this device"}<br /><small>since {moment(each.created)}, last used {moment(each.seen)}</small></span>
            {!each.current && <button type="button" disabled={doing.busy} aria-label={`Sign out ${each.device || "this device"}, last used ${moment(each.seen)}`} onClick={() => end(each.id)}>Sign out</button>}
          </li>
        ))}
      </ul>
      {others.length > 1 && <Sure label={person ? "Sign all out" : "Sign all others out"} yes="Sign them out" busy={doing.busy} asks="What waits there to be sent stays there, and goes on after the next sign-in." then={() => end("all")} />}
    </>
  );
}
