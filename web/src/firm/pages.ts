/** Everything that only a firm's server has, in one piece that is fetched when it is needed. */

import "./firm.css";

export { Account } from "./account";
export { Audit } from "./audit";
export { FirmBar } from "./bar";
export { Due } from "./due";
export { FirmHouses } from "./houses";
export { Instruments } from "./instruments";
export { Invitation } from "./invitation";
export { People } from "./people";
export { Review } from "./review";
export { SignIn } from "./sign_in";
export { Word } from "./word";
