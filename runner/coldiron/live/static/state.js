// What the hand has done, in the address: so the back button works, and a copied address is the same page.

export const MOST_PINS = 6;

export const state = {
  changes: {}, bench: "steady", angle: 90, polarity: 1, supply: "", ambient: "", pins: [], touched: "", part: "",
};

export function read() {
  const words = new URLSearchParams(location.hash.slice(1));
  const parsed = (text, other) => {
    try { return JSON.parse(text) ?? other; } catch { return other; }
  };
  const table = (value) => (value && typeof value === "object" && !Array.isArray(value) ? value : {});
  state.changes = table(parsed(words.get("c"), {}));
  state.bench = words.get("b") || "steady";
  state.angle = Number(words.get("a") ?? 90) || 0;
  state.polarity = words.get("p") === "-" ? -1 : 1;
  state.supply = words.get("s") || "";
  state.ambient = words.get("t") || "";
  state.pins = words.getAll("pin").slice(0, MOST_PINS).map((text) => table(parsed(text, {})));
  state.part = words.get("part") || "";
}

function written() {
  const words = new URLSearchParams();
  words.set("b", state.bench);
  if (state.bench === "surge") {
    words.set("a", state.angle);
    words.set("p", state.polarity > 0 ? "+" : "-");
  }
  if (state.supply) words.set("s", state.supply);
  if (state.ambient) words.set("t", state.ambient);
  if (Object.keys(state.changes).length) words.set("c", JSON.stringify(state.changes));
  for (const pin of state.pins) words.append("pin", JSON.stringify(pin));
  if (state.part) words.set("part", state.part);
  return `#${words}`;
}

let resting = 0;

// A slide is one step of the history, not fifty: it is written when the hand rests.
export function write() {
  clearTimeout(resting);
  resting = setTimeout(() => {
    const now = written();
    if (now !== location.hash) history.pushState(null, "", now);
  }, 400);
}

export function task(changes = state.changes) {
  return {
    changes, bench: state.bench, angle: state.angle, polarity: state.polarity,
    supply: state.supply, ambient: state.ambient,
  };
}

export const asked = () => encodeURIComponent(JSON.stringify(task()));

// A number as the lamp's files write it, for comparing only: "4.7 µF" is 4.7e-6.
const SIZES = { p: 1e-12, n: 1e-9, µ: 1e-6, u: 1e-6, m: 1e-3, k: 1e3, M: 1e6, G: 1e9 };
export function size(text) {
  const found = /^\s*([-+]?[\d.]+)\s*([pnµumkMG]?)/.exec(String(text));
  return found ? Number(found[1]) * (SIZES[found[2]] ?? 1) : NaN;
}

export function element(name, attributes = {}, ...children) {
  const made = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) {
    if (key.startsWith("on")) made.addEventListener(key.slice(2), value);
    else if (key in made && typeof value !== "string") made[key] = value;
    else made.setAttribute(key, value);
  }
  made.append(...children.filter((child) => child !== null && child !== undefined));
  return made;
}
