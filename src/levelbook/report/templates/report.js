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

  // One stop for the Tab key; arrows go to the nearest station in their direction.
  const rove = (spot) => spots.forEach((s) => s.setAttribute("tabindex", s === spot ? "0" : "-1"));
  const centre = (spot) => {
    const box = spot.getBoundingClientRect();
    return [box.x + box.width / 2, box.y + box.height / 2];
  };
  const ways = { ArrowRight: [1, 0], ArrowLeft: [-1, 0], ArrowDown: [0, 1], ArrowUp: [0, -1] };
  const neighbour = (spot, [dx, dy]) => {
    const [x, y] = centre(spot);
    let best = null;
    let least = Infinity;
    for (const other of spots) {
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
  rove(spots[0]);
})();
