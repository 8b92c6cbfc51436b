// Trade-off: two readings across and up, the last ten values the hand was at, as found and what is pinned.

import { element } from "./state.js";

const NS = "http://www.w3.org/2000/svg";
const WIDTH = 420, HEIGHT = 250, LEFT = 58, BOTTOM = 40, TOP = 12, RIGHT = 14;
export const MOST = 10;
const FIRST = {
  steady: ["sinks_W", "flicker_pct"], heat: ["sink_die_worst_C", "svm"], surge: ["surge_varistor_peak_A", "surge_sink_peak_A"],
  "switch-on": ["inrush_peak_A", "first_light_ms"], unplug: ["stored_energy_J", "discharge_60V_s"],
};

function svg(name, attributes, ...children) {
  const made = document.createElementNS(NS, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  made.append(...children);
  return made;
}

export class Trail {
  constructor(place, words, across, up, take) {
    Object.assign(this, { place, words, across, up, take });
    this.points = [];
    this.found = null;
    this.bench = "";
    for (const select of [across, up]) select.addEventListener("change", () => this.draw());
  }

  // A value the hand was at, with its readings on this bench.
  add(bench, readings, label, changes, pens) {
    if (bench !== this.bench) {
      this.bench = bench;
      this.points = [];
      this.choose(readings);
    }
    const values = Object.fromEntries(readings.filter((each) => typeof each.value === "number").map((each) => [each.id, each]));
    const key = JSON.stringify(changes);
    const found = Object.fromEntries(readings.filter((each) => typeof each.found === "number").map((each) => [each.id, { ...each, value: each.found, text: each.was }]));
    this.found = { key: "{}", label: "as found", changes: {}, values: found };
    this.points = this.points.filter((point) => point.key !== key);
    this.points.push({ key, label, changes: structuredClone(changes), values });
    if (this.points.length > MOST) this.points.shift();
    this.pens = pens;
    this.draw();
  }

  choose(readings) {
    const numbers = readings.filter((each) => typeof each.value === "number");
    const [first, second] = FIRST[this.bench] ?? [];
    for (const [select, wanted, n] of [[this.across, first, 0], [this.up, second, 1]]) {
      select.replaceChildren(...numbers.map((each) => element("option", { value: each.id }, `${each.short}${each.unit ? ` [${each.unit}]` : ""}`)));
      select.value = numbers.some((each) => each.id === wanted) ? wanted : numbers[n]?.id ?? "";
    }
  }

  draw() {
    const [x, y] = [this.across.value, this.up.value];
    const had = this.points.some((point) => point.key === "{}") || !this.found ? [] : [this.found];
    const shown = [...had, ...this.points].filter((point) => point.values[x] && point.values[y]);
    if (!shown.length) { this.place.replaceChildren(); this.words.replaceChildren(); return; }
    const span = (key) => {
      const all = shown.map((point) => point.values[key].value);
      let low = Math.min(...all), high = Math.max(...all);
      if (low > 0 && low < 0.5 * high) low = 0;
      if (high - low < 1e-9) { high += Math.abs(high) || 1; low = Math.max(0, low - Math.abs(low)); }
      const room = 0.08 * (high - low);
      return [low === 0 ? 0 : low - room, high + room];
    };
    const [x0, x1] = span(x), [y0, y1] = span(y);
    const px = (value) => LEFT + (WIDTH - LEFT - RIGHT) * (value - x0) / (x1 - x0);
    const py = (value) => HEIGHT - BOTTOM - (HEIGHT - BOTTOM - TOP) * (value - y0) / (y1 - y0);
    const drawing = svg("svg", { viewBox: `0 0 ${WIDTH} ${HEIGHT}`, role: "img", "aria-label": `Trade-off of the last ${shown.length} values; they stand in words below.` });
    for (let n = 0; n <= 4; n += 1) {
      const vx = x0 + (x1 - x0) * n / 4, vy = y0 + (y1 - y0) * n / 4;
      drawing.append(svg("line", { x1: px(vx), x2: px(vx), y1: TOP, y2: HEIGHT - BOTTOM, class: "grid" }), svg("line", { x1: LEFT, x2: WIDTH - RIGHT, y1: py(vy), y2: py(vy), class: "grid" }),
        svg("text", { x: px(vx), y: HEIGHT - BOTTOM + 14, "text-anchor": "middle" }, short(vx, x1 - x0)), svg("text", { x: LEFT - 5, y: py(vy) + 4, "text-anchor": "end" }, short(vy, y1 - y0)));
    }
    const unit = (key) => `${shown.at(-1).values[key].short}${shown.at(-1).values[key].unit ? ` [${shown.at(-1).values[key].unit}]` : ""}`;
    drawing.append(svg("text", { x: (LEFT + WIDTH) / 2, y: HEIGHT - 6, "text-anchor": "middle" }, unit(x)), svg("text", { x: 12, y: (HEIGHT - BOTTOM) / 2, "text-anchor": "middle", transform: `rotate(-90 12 ${(HEIGHT - BOTTOM) / 2})` }, unit(y)));
    drawing.append(svg("polyline", { points: shown.map((point) => `${px(point.values[x].value)},${py(point.values[y].value)}`).join(" "), class: "way" }));
    shown.forEach((point, n) => {
      const cx = px(point.values[x].value), cy = py(point.values[y].value), last = n === shown.length - 1, found = point.key === "{}";
      drawing.append(svg("circle", { cx, cy, r: last ? 5 : found ? 6 : 3, class: last ? "last" : found ? "found" : "was" }));
    });
    shown.filter((point, n) => point.key === "{}" || n === shown.length - 1).forEach((point) => {
      const cx = px(point.values[x].value), right = cx > WIDTH * 0.6;
      drawing.append(svg("text", { x: cx + (right ? -9 : 9), y: py(point.values[y].value) - 7, "text-anchor": right ? "end" : "start", class: "name" }, point.label.length > 34 ? `${point.label.slice(0, 33)}…` : point.label));
    });
    this.place.replaceChildren(drawing);
    this.words.replaceChildren(...[...shown].reverse().map((point) => element("li", {}, element("button", { type: "button", onclick: () => this.take(point.changes) }, point.label), `: ${point.values[x].what} ${point.values[x].text}, ${point.values[y].what} ${point.values[y].text}`)));
  }
}

// As many digits as tell one line of the grid from the next.
function short(value, span) {
  const decimals = Math.min(6, Math.max(0, 2 - Math.floor(Math.log10(Math.abs(span) || 1))));
  return Number(value.toFixed(decimals)).toString().replace("-", "−");
}
