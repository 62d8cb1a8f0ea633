/** A quiet word that this device sent again what the server lacked. */

import { brought, broughtWords, NOTHING } from "./brought";

export function BroughtNote() {
  if (brought.value.entries + brought.value.photos === 0) return null;
  return (
    <div class="note" role="status">
      {broughtWords(brought.value)} <button type="button" onClick={() => { brought.value = NOTHING; }}>Close</button>
    </div>
  );
}
