/** The ways between the pages of a firm that belong to no house. */

import { route } from "../route";
import { me } from "./here";
import { Proof } from "./proof";

export function FirmBar() {
  const owner = me.value?.person.role === "owner";
  const { page } = route.value;
  const ways: readonly (readonly [string, string])[] = [
    ["", "Houses"], ["due", "Due"], ["instruments", "Instruments"], ["people", "People"],
    ...(owner ? [["audit", "Log"] as const] : []), ["account", "Account"],
  ];
  return (
    <>
      <nav class="firm-bar" aria-label={`Pages of ${me.value?.firm.name || "your firm"}`}>
        {ways.map(([name, words]) => (
          <a key={name} href={`#/${name}`} {...(page === name ? { "aria-current": "page" as const } : {})}>{words}</a>
        ))}
      </nav>
      <Proof />
    </>
  );
}
