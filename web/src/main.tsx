import { render } from "preact";

import { App } from "./app";
import "./style.css";
import "./theme";

render(<App />, document.getElementById("app") as HTMLElement);
