import { render } from "preact";

import { App } from "./app";
import { route } from "./route";
import "./style.css";
import "./theme";

// A house opens with its plan: the map comes while the server is asked who is here.
if (route.value.visit) void import("./plan/PlanMap").catch(() => undefined);
render(<App />, document.getElementById("app") as HTMLElement);
