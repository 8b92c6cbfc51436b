// Use over allowed as bars with a tick where the lamp as found stood, and the table of readings.

import { element } from "./state.js";

const LONGEST = 2;

const said = (ratio) => (ratio === null || ratio === undefined ? "–" : ratio < 9.95 ? ratio.toFixed(2) : ratio.toFixed(0));

export function showBars(table, told, onBetter) {
  const chosen = table.dataset.topic ?? "";
  const rows = told.bars.map((bar) => {
    const cell = element("td", { class: "bar" });
    const share = (ratio) => `${100 * Math.min(ratio ?? 0, LONGEST) / LONGEST}%`;
    const now = element("span", { class: `use${bar.now > LONGEST ? " cut" : ""}` });
    now.style.width = share(bar.now);
    const allowed = element("span", { class: "allowed" });
    allowed.style.left = share(1);
    cell.append(now, allowed);
    if (bar.was !== null) {
      const was = element("span", { class: "was" });
      was.style.left = share(bar.was);
      cell.append(was);
    }
    cell.append(element("b", { class: "unseen" }, `${bar.said}; ${said(bar.now)} of what is allowed, as found ${said(bar.was)}`));
    const button = element("button", {
      type: "button", title: `${bar.said}. Which way is better?`, "aria-label": `${bar.name}: which way is better?`, "aria-pressed": String(bar.topic === chosen),
      onclick: () => { table.dataset.topic = bar.topic; onBetter(bar); },
    }, bar.name);
    return element("tr", { class: bar.over ? "over" : "" },
      element("th", { scope: "row" }, button), cell, element("td", {}, said(bar.now)), element("td", { class: "faint" }, said(bar.was)));
  });
  const head = element("thead", {}, element("tr", {}, element("th", { scope: "col" }, "limit"), element("th", { scope: "col" }, "use, the line is the limit"), element("th", { scope: "col" }, "now"), element("th", { scope: "col" }, "found")));
  table.replaceChildren(head, element("tbody", {}, ...rows));
}

export function showReadings(table, readings) {
  const row = (each) => element("tr", {},
    element("th", { scope: "row" }, each.what, " ", element("code", {}, each.id)),
    element("td", {}, each.text ?? "–"), element("td", {}, each.was ?? "–"), element("td", {}, each.change ?? ""));
  // Forty harmonics are a table of their own, below.
  const harmonic = readings.filter((each) => each.id.startsWith("harmonic_"));
  const rest = document.getElementById("harmonics");
  rest.hidden = !harmonic.length;
  rest.querySelector("table").replaceChildren(element("tbody", {}, ...harmonic.map(row)));
  table.replaceChildren(
    element("thead", {}, element("tr", {}, ...["reading", "in hand", "as found", "change"].map((word) => element("th", { scope: "col" }, word)))),
    element("tbody", {}, ...readings.filter((each) => !harmonic.includes(each)).map(row)));
}

// Neighbours of one bar: a row each as they come in, the best first.
export class Better {
  constructor(place, take) {
    this.place = place;
    this.take = take;
    this.rows = [];
  }

  hear(told) {
    if (told.begin) { this.rows = []; this.topic = told.topic; this.now = told.ratio; }
    else this.rows.push(told);
    const order = [...this.rows].sort((a, b) => (a.ratio ?? 0) - (b.ratio ?? 0));
    const name = this.topic.split("/").slice(1).join("/");
    const row = (each) => {
      const moved = (each.ratio ?? 0) - (this.now ?? 0);
      const way = Math.abs(moved) < 0.005 ? "same" : moved < 0 ? "better" : "worse";
      return element("tr", { class: way }, element("th", { scope: "row" }, element("button", { type: "button", onclick: () => this.take(each.changes) }, each.label)),
        element("td", {}, said(each.ratio)), element("td", {}, way === "same" ? "=" : way));
    };
    this.place.replaceChildren(
      element("h3", {}, `One step either way: ${name}, now ${said(this.now)}`),
      element("table", {}, element("tbody", {}, ...order.filter((each) => Math.abs((each.ratio ?? 0) - (this.now ?? 0)) >= 0.005).map(row))),
      element("p", { class: "what" }, `${this.rows.length} neighbours run, ${this.rows.filter((each) => Math.abs((each.ratio ?? 0) - (this.now ?? 0)) < 0.005).length} of them change nothing here.`));
  }

  clear() { this.place.replaceChildren(); }
}
