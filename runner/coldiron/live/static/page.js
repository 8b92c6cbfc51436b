// The page: hands out, answers in. One post on its way and one that waits, as at the server's desk.

import { Better, showBars, showReadings } from "./bars.js";
import { Circuit, Handles } from "./handles.js";
import { MOST_PINS, asked, element, read, state, task, write } from "./state.js";
import { Sheet, figure, runOf } from "./strips.js";
import { Trail } from "./trail.js";

const by = (id) => document.getElementById(id);
const page = Array.from(crypto.getRandomValues(new Uint8Array(8)), (each) => each.toString(16).padStart(2, "0")).join("");
const HAND_PEN = { colour: "#26303a", dashes: [], marker: "", width: 1.5 };
const OLD_PEN = { colour: "#26303a", dashes: [5, 4], marker: "", width: 1 };

// For whoever measures: when each hand was moved and when its strips were painted.
const watch = { moved: new Map(), painted: [], read: [], drawn: -1, number: 0, ended: -1, events: [] };
window.coldiron = watch;

let lamp, circuit, handles, sheet, trail, better;
let number = 0, sending = false, waits = false, better_bar = null;
let hand = null, lastRow = null, drawing = 0, telling = 0;
const found = new Map(), pins = new Map();

const conditionsKey = () => JSON.stringify([state.bench, state.angle, state.polarity, state.supply, state.ambient]);

// --- hands ---------------------------------------------------------------------------------------

function move(key = "", row = null, at = performance.now()) {
  state.touched = key;
  lastRow = row;
  number += 1;
  watch.number = number;
  watch.moved.set(number, at);
  if (watch.moved.size > 200) watch.moved.delete(watch.moved.keys().next().value);
  write();
  hold_old();
  send();
}

async function send() {
  if (sending) { waits = true; return; }
  sending = true;
  const posted = { page, number, task: task(), pins: state.pins, touched: state.touched, better: better_bar ? `${better_bar.bench}|${better_bar.topic}` : "" };
  try {
    const answer = await fetch("hand", { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(posted) });
    const told = await answer.json();
    if (answer.ok) {
      by("problem").textContent = "";
      lastRow?.input.removeAttribute("aria-invalid");
    } else {
      clearTimeout(telling);
      by("problem").textContent = handles.refuse(lastRow, told.problems.join(" "));
      by("state").textContent = hand ? `The lines drawn are those of ${name(hand.changes)}.` : "";
    }
  } catch {
    clearTimeout(telling);
    by("state").textContent = gone();
    setTimeout(() => { sending = false; waits = false; send(); }, 1000);
    return;
  }
  sending = false;
  if (waits) { waits = false; send(); }
}

const gone = () => `The server does not answer. ${hand ? `The lines drawn are those of ${name(hand.changes)}; they` : "They"} follow as soon as it is back.`;
const name = (changes) => (changes.length ? changes.join(", ") : "the lamp as found");

// The line of the hand stays, dashed and named, until the new one is there.
function hold_old() {
  if (!hand || !sheet.runs.length) return;
  clearTimeout(telling);
  telling = setTimeout(() => {
    if (watch.drawn >= number) return;
    by("state").textContent = `Running. Dashed: ${name(hand.changes)}.`;
    if (hand.run) { hand.run.pen = OLD_PEN; redraw(); }
  }, 150);
}

// --- answers -------------------------------------------------------------------------------------

function listen() {
  const stream = new EventSource(`answers?page=${page}`);
  const hear = (kind, take) => stream.addEventListener(kind, (event) => { const told = JSON.parse(event.data); watch.events.push(kind); if (watch.events.length > 400) watch.events.shift(); take(told); });
  hear("hello", () => { found.clear(); pins.clear(); by("state").textContent = ""; document.body.classList.remove("gone"); move(); });
  hear("found", (told) => { found.set(told.conditions, told); });
  hear("strip", onStrip);
  hear("readings", onReadings);
  hear("pin", onPin);
  hear("bars", onBars);
  hear("better", (told) => { if (told.number === number) better.hear(told); });
  hear("end", (told) => { watch.ended = told.number; });
  hear("overtaken", () => {});
  hear("failed", (told) => {
    if (told.number !== number) return;
    watch.ended = told.number;
    clearTimeout(telling);
    by("state").textContent = `No answer for this value: ${told.why}. ${hand ? `The lines drawn are those of ${name(hand.changes)}.` : ""}`;
  });
  stream.onerror = () => { document.body.classList.add("gone"); by("state").textContent = gone(); };
}

function onStrip(told) {
  if (told.conditions !== conditionsKey() || told.number < watch.drawn) return;
  watch.drawn = told.number;
  hand = { ...told, run: runOf(told, HAND_PEN, "in hand") };
  clearTimeout(telling);
  const newest = told.number === number;
  by("state").textContent = newest ? [told.why, told.note ? `Shown with the ${told.note}.` : "", `${told.runs} runs, ${Math.round(told.worker_ms)} ms of ngspice.`].filter(Boolean).join(" ") : "";
  redraw();
  by("about").textContent = `${name(told.changes)} · ${state.supply || lamp.mains.nominal} · ${state.ambient || lamp.ambient}`;
  if (state.bench !== "surge") {
    showReadings(by("readings"), told.readings);
    by("readings-of").textContent = of(state.bench, "");
  }
  const moved = watch.moved.get(told.number);
  requestAnimationFrame(() => setTimeout(() => {
    watch.painted.push([told.number, performance.now() - moved, told.worker_ms]);
    if (watch.painted.length > 4000) watch.painted.shift();
  }));
  clearTimeout(drawing);
  drawing = setTimeout(draw_circuit, 200);
}

const of = (bench, scope) => `Bench ${bench}, ${state.supply || lamp.mains.nominal}, ${state.ambient || lamp.ambient}${scope}: as coldiron study reads them.`;

function onReadings(told) {
  if (told.number !== number) return;
  showReadings(by("readings"), told.readings);
  by("readings-of").textContent = told.failed ? `No readings: ${told.failed}` : of(told.bench, told.bench === "surge" ? ", the worst over all angles and polarities" : "");
  const moved = watch.moved.get(told.number);
  requestAnimationFrame(() => setTimeout(() => {
    watch.read.push([told.number, performance.now() - moved]);
    if (watch.read.length > 400) watch.read.shift();
  }));
  if (told.readings.length) trail.add(told.bench, told.readings, name(hand.changes), state.changes, lamp.pens);
}

function onPin(told) {
  if (told.conditions && told.conditions !== conditionsKey()) return;
  pins.set(JSON.stringify(state.pins[told.pin] ?? null), told);
  list_pins();
  if (!watch.moved.size || told.number === number) redraw();
}

function onBars(told) {
  if (told.number !== number) return;
  by("said").textContent = hand.changes.length ? told.said : "The lamp as found. Take hold of a part, move its value: ngspice answers.";
  by("over").textContent = told.over ? `Over: ${told.over}.` : "";
  by("bars-of").textContent = `Run so far: ${told.benches.join(", ")}${told.all ? "" : "; more are on their way"}. The grey tick is the lamp as found.`;
  if (!(document.activeElement && by("bars").contains(document.activeElement)) || told.all) {
    const held = document.activeElement?.closest?.("#bars button")?.getAttribute("aria-label");
    showBars(by("bars"), told, (bar) => { better_bar = bar; better.clear(); by("better").textContent = "Running the neighbours …"; move(state.touched); });
    if (held) [...by("bars").querySelectorAll("button")].find((each) => each.getAttribute("aria-label") === held)?.focus();
  }
}

// --- drawing -------------------------------------------------------------------------------------

function redraw() {
  const told = found.get(conditionsKey());
  const runs = [];
  if (told) runs.push(runOf(told, { ...lamp.pens[0] }, "as found"));
  state.pins.forEach((changes, n) => {
    const pinned = pins.get(JSON.stringify(changes));
    if (pinned && pinned.conditions === conditionsKey()) runs.push(runOf(pinned, lamp.pens[n + 1], name(pinned.changes)));
  });
  if (hand?.run && hand.conditions === conditionsKey()) runs.push(hand.run);
  const drawn = runs.filter(Boolean);
  if (!drawn.length) { sheet.clear(); return; }
  const top = drawn.at(-1).told;
  sheet.draw(drawn, top.axis, top.levels ?? []);
  show_key(drawn);
  if (by("words").open) words();
}

function swatch(pen) {
  const ns = "http://www.w3.org/2000/svg", made = document.createElementNS(ns, "svg"), line = document.createElementNS(ns, "line");
  made.setAttribute("viewBox", "0 0 34 10");
  made.setAttribute("width", "34");
  made.setAttribute("height", "10");
  made.setAttribute("aria-hidden", "true");
  for (const [key, value] of Object.entries({ x1: 1, x2: 33, y1: 5, y2: 5, stroke: pen.colour, "stroke-width": pen.width * 1.3, "stroke-dasharray": pen.dashes.join(" ") || "none" })) line.setAttribute(key, value);
  made.append(line);
  return made;
}

function show_key(runs) {
  by("key").replaceChildren(...runs.map((run) => element("span", {}, swatch(run.pen), run === hand?.run ? name(hand.changes) === "the lamp as found" ? "in hand: as found" : `in hand: ${name(hand.changes)}` : run.title)));
}

async function draw_circuit() {
  const row = innerWidth >= 1100 ? "&row=1" : "";
  const answer = await fetch(`drawing?t=${asked()}${row}`);
  if (answer.ok) circuit.show(await answer.text());
  by("deck").href = `deck?t=${asked()}`;
  by("csv").href = `strips.csv?t=${asked()}`;
}

let bearing = 0, borne = "";
function bear(moment) {
  clearTimeout(bearing);
  if (moment === null) { borne = ""; circuit.bear(null); return; }
  bearing = setTimeout(async () => {
    const place = `moment?t=${asked()}&at=${moment}`;
    if (place === borne || !hand) return;
    borne = place;
    const answer = await fetch(place);
    if (answer.ok) circuit.bear(await answer.json());
  }, 180);
}

function words() {
  const run = hand?.run;
  if (!run) return;
  by("summary").replaceChildren(...hand.strips.map((strip) => element("li", {}, strip.said)));
  const rows = [], [first, end] = sheet.view;
  for (let n = 0; n <= 24; n += 1) {
    const moment = sheet.axis.decades ? first * (end / first) ** (n / 24) : first + (end - first) * n / 24;
    rows.push(moment);
  }
  const value = (name_, moment) => { const time = run.time; let k = 0; while (k < time.length - 1 && time[k + 1] <= moment) k += 1; return figure(run.rows.get(name_)[k]); };
  by("figures").replaceChildren(
    element("caption", {}, `${name(hand.changes)}, ${sheet.axis.title}`),
    element("thead", {}, element("tr", {}, element("th", { scope: "col" }, `[${sheet.axis.unit}]`), ...hand.strips.map((strip) => element("th", { scope: "col" }, `${strip.name} [${strip.unit}]`)))),
    element("tbody", {}, ...rows.map((moment) => element("tr", {}, element("th", { scope: "row" }, figure(moment)), ...hand.strips.map((strip) => element("td", {}, value(strip.name, moment)))))));
}

// --- pins and ways out ---------------------------------------------------------------------------

function list_pins() {
  if (!state.pins.length) { by("pins").replaceChildren(element("li", { class: "what" }, "Nothing yet; six can be.")); return; }
  by("pins").replaceChildren(...state.pins.map((changes, n) => {
    const told = pins.get(JSON.stringify(changes)), said = told ? told.why ?? name(told.changes) : "running …";
    return element("li", {}, swatch(lamp.pens[n + 1]), element("button", { type: "button", onclick: () => take(changes) }, said),
      element("button", { type: "button", class: "small", "aria-label": `Unpin ${said}`, onclick: () => { state.pins.splice(n, 1); list_pins(); move(); } }, "unpin"));
  }));
}

function take(changes) {
  state.changes = structuredClone(changes);
  handles.again();
  reopen();
  move();
}

function reopen() {
  const part = state.part ? circuit.partOf(state.part) : null;
  if (part) handles.show(part, state.part);
}

function pin() {
  const now = JSON.stringify(state.changes);
  if (state.pins.some((each) => JSON.stringify(each) === now)) return;
  if (state.pins.length >= MOST_PINS) { by("state").textContent = "Six are pinned; unpin one first."; return; }
  state.pins.push(structuredClone(state.changes));
  list_pins();
  move(state.touched);
}

async function copy_study() {
  const answer = await fetch("study", { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify({ page, number, task: task(), pins: state.pins }) });
  if (!answer.ok) return;
  const text = await answer.text();
  by("study").hidden = false;
  by("study-text").value = text;
  by("study-text").focus();
  by("study-text").select();
  try { await navigator.clipboard.writeText(text); by("state").textContent = "The study is in the clipboard."; } catch { by("state").textContent = "The study stands below."; }
}

function picture() {
  sheet.picture(`${lamp.name}: ${name(hand?.changes ?? [])}, ${state.bench}`).toBlob((blob) => {
    const link = element("a", { href: URL.createObjectURL(blob), download: "strips.png" });
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 1000);
  });
}

// --- what the page is built from -----------------------------------------------------------------

function conditions() {
  by("benches").replaceChildren(...lamp.benches.map(([bench, said]) => element("label", { title: said }, element("input", { type: "radio", name: "bench", value: bench, checked: bench === state.bench, onchange: () => { state.bench = bench; by("angles").hidden = bench !== "surge"; move(); } }), bench)));
  by("angles").hidden = state.bench !== "surge";
  const ticks = [1, -1].flatMap((polarity) => lamp.surge.angles.map((angle) => [polarity, angle]));
  by("ticks").replaceChildren(...ticks.map(([polarity, angle]) => {
    const sign = polarity > 0 ? "+" : "−";
    return element("label", {}, element("input", { type: "radio", name: "tick", "aria-label": `${polarity > 0 ? "positive" : "negative"} at ${angle} degrees`, checked: angle === state.angle && polarity === state.polarity, onchange: () => { state.angle = angle; state.polarity = polarity; move(); } }), `${sign}${angle}°`);
  }));
  by("from").replaceChildren(element("option", {}, "…"), ...lamp.variants.map(([each]) => element("option", {}, each)));
  by("supply").value = state.supply || lamp.mains.now;
  by("ambient").value = state.ambient || lamp.ambient;
}

async function start() {
  read();
  lamp = await (await fetch("lamp")).json();
  document.title = `${lamp.name} · live bench`;
  by("name").textContent = lamp.name;
  by("caution").textContent = lamp.caution;
  by("foot").textContent = lamp.note;
  by("lessons").replaceChildren("Lessons: ", ...lamp.lessons.flatMap(([each, title], n) => [n ? " · " : "", element("a", { href: `lesson?name=${each}` }, title)]), ".");
  by("supplies").replaceChildren(...lamp.mains.choices.map((each) => element("option", { value: each })));
  circuit = new Circuit(by("drawing"), by("places"), lamp.parts, (part, drawn) => {
    state.part = drawn;
    handles.show(part, drawn);
    write();
    by("in-hand").scrollIntoView({ block: "nearest" });
  });
  handles = new Handles(by("handle"), by("handle-title"), move);
  sheet = new Sheet(by("sheet"), bear);
  better = new Better(by("better"), take);
  trail = new Trail(by("trail"), by("trail-words"), by("across"), by("up"), take);
  watch.sheet = sheet;
  conditions();
  list_pins();
  reopen();
  by("supply").addEventListener("change", () => { state.supply = by("supply").value.trim() === lamp.mains.now ? "" : by("supply").value.trim(); move(); });
  by("ambient").addEventListener("change", () => { state.ambient = by("ambient").value.trim() === lamp.ambient ? "" : by("ambient").value.trim(); move(); });
  by("conditions").addEventListener("submit", (event) => event.preventDefault());
  by("axes").addEventListener("submit", (event) => event.preventDefault());
  by("from").addEventListener("change", () => { const chosen = lamp.variants.find(([each]) => each === by("from").value); if (chosen) take(chosen[1]); });
  by("reset-all").addEventListener("click", () => take({}));
  by("pin").addEventListener("click", pin);
  by("copy-study").addEventListener("click", copy_study);
  by("picture").addEventListener("click", picture);
  by("words").addEventListener("toggle", words);
  addEventListener("popstate", () => { read(); conditions(); list_pins(); handles.again(); reopen(); move(); });
  await draw_circuit();
  listen();
}

start();
