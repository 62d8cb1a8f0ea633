// The plan answers: a station that is tapped or chosen by keyboard tells its readings.
(() => {
  "use strict";
  const live = document.getElementById("live");
  const panel = document.getElementById("panel");
  const data = JSON.parse(document.getElementById("stations").textContent);
  const spots = [...live.querySelectorAll("g.station")].filter((g) => data.stations[g.dataset.id]);
  if (!spots.length) return;
  const label = data.labels;
  let chosen = null;

  const element = (name, text, parent) => {
    const made = document.createElement(name);
    if (text !== undefined) made.textContent = text;
    if (parent) parent.append(made);
    return made;
  };

  const pairs = (items, parent) => {
    const list = element("dl", undefined, parent);
    for (const [name, value] of items) {
      const row = element("div", undefined, list);
      element("dt", name, row);
      element("dd", value, row);
    }
  };

  const tell = (id) => {
    const station = data.stations[id];
    panel.replaceChildren();
    const bar = element("div", undefined, panel);
    bar.className = "bar";
    element("h2", station.title, bar);
    const close = element("button", label.close, bar);
    close.type = "button";
    close.addEventListener("click", () => choose(null));
    element("p", station.level, panel).className = "big";
    pairs(station.facts, panel);
    for (const note of station.notes) element("p", note, panel);
    for (const reading of station.readings) {
      const title = element("h3", undefined, panel);
      element(reading.struck ? "s" : "span", reading.title, title);
      pairs(reading.steps, panel);
      if (reading.note) element("p", reading.note, panel);
    }
  };

  const choose = (spot) => {
    const before = chosen;
    if (before) { before.classList.remove("chosen"); before.setAttribute("aria-pressed", "false"); }
    chosen = spot;
    live.classList.toggle("chosen", Boolean(spot));
    if (!spot) {
      panel.replaceChildren();
      element("p", label.nothing, panel);
      if (before) before.focus();
      return;
    }
    spot.classList.add("chosen");
    spot.setAttribute("aria-pressed", "true");
    rove(spot);
    tell(spot.dataset.id);
  };

  // One stop for the Tab key in each of the plans, of which a screen shows one; arrows go to the
  // nearest station in their direction.
  const plans = [...new Set(spots.map((spot) => spot.ownerSVGElement))];
  const rove = (spot) => {
    for (const other of spots) {
      if (other.ownerSVGElement === spot.ownerSVGElement) other.setAttribute("tabindex", other === spot ? "0" : "-1");
    }
  };
  const shown = () => spots.filter((spot) => spot.getClientRects().length > 0);
  const centre = (spot) => {
    const box = (spot.querySelector("circle, path") ?? spot).getBoundingClientRect();
    return [box.x + box.width / 2, box.y + box.height / 2];
  };
  const ways = { ArrowRight: [1, 0], ArrowLeft: [-1, 0], ArrowDown: [0, 1], ArrowUp: [0, -1] };
  const neighbour = (spot, [dx, dy]) => {
    const [x, y] = centre(spot);
    let best = null;
    let least = Infinity;
    for (const other of shown()) {
      const [u, v] = centre(other);
      const along = (u - x) * dx + (v - y) * dy;
      const across = Math.abs((u - x) * dy) + Math.abs((v - y) * dx);
      if (other === spot || along <= 0 || across > along) continue;
      if (along + across < least) { least = along + across; best = other; }
    }
    return best;
  };

  for (const spot of spots) {
    spot.setAttribute("aria-pressed", "false");
    spot.addEventListener("click", () => choose(spot));
    spot.addEventListener("keydown", (event) => {
      if (event.key === "Enter" || event.key === " ") { event.preventDefault(); choose(spot); }
      if (event.key === "Escape") choose(null);
      const way = ways[event.key];
      if (!way) return;
      event.preventDefault();
      const next = neighbour(spot, way);
      if (next) { rove(next); next.focus(); }
    });
  }
  for (const plan of plans) rove(spots.find((spot) => spot.ownerSVGElement === plan));

  // A tap beside a station takes the nearest one, as fingers are wider than its mark.
  const paper = live.querySelector(".paper");
  const REACH = 40;
  paper.addEventListener("click", (event) => {
    if (event.target.closest("g.station")) return;
    let best = null;
    let least = REACH;
    for (const spot of shown()) {
      const [x, y] = centre(spot);
      const far = Math.hypot(x - event.clientX, y - event.clientY);
      if (far < least) { least = far; best = spot; }
    }
    if (best) choose(best);
  });

  // The plan comes closer inside its frame: by buttons, two fingers, or Ctrl and the wheel.
  const MOST = 6;
  let near = 1;
  let height = 0;
  const bar = element("div");
  bar.className = "nearer";
  const button = (text, act) => {
    const made = element("button", text, bar);
    made.type = "button";
    made.addEventListener("click", act);
    return made;
  };
  const zoom = (to, x, y) => {
    const box = paper.getBoundingClientRect();
    if (near === 1) height = box.height;
    const px = x === undefined ? box.width / 2 : x - box.x;
    const py = y === undefined ? box.height / 2 : y - box.y;
    const u = (paper.scrollLeft + px) / near;
    const v = (paper.scrollTop + py) / near;
    near = Math.min(MOST, Math.max(1, to));
    paper.classList.toggle("near", near > 1);
    paper.style.height = near > 1 ? `${height}px` : "";
    paper.style.setProperty("--near", String(near));
    paper.scrollTo(u * near - px, v * near - py);
    [closer.disabled, farther.disabled, whole.disabled] = [near >= MOST, near <= 1, near <= 1];
  };
  const closer = button(label.closer, () => zoom(near * 1.6));
  const farther = button(label.farther, () => zoom(near / 1.6));
  const whole = button(label.whole, () => zoom(1));
  zoom(1);
  paper.after(bar);
  let span = 0;
  paper.addEventListener("touchmove", (event) => {
    if (event.touches.length !== 2) return;
    event.preventDefault();
    const [a, b] = event.touches;
    const now = Math.hypot(a.clientX - b.clientX, a.clientY - b.clientY);
    if (span) zoom((near * now) / span, (a.clientX + b.clientX) / 2, (a.clientY + b.clientY) / 2);
    span = now;
  }, { passive: false });
  for (const name of ["touchstart", "touchend", "touchcancel"]) paper.addEventListener(name, () => { span = 0; });
  paper.addEventListener("wheel", (event) => {
    if (!event.ctrlKey) return;
    event.preventDefault();
    zoom(near * Math.exp(-event.deltaY / 300), event.clientX, event.clientY);
  }, { passive: false });
  addEventListener("resize", () => { if (near > 1) zoom(1); });
})();
