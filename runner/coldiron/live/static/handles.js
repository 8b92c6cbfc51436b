// The schematic as a menu, and the handles of the part in hand.

import { element, size, state } from "./state.js";

const STATES = [["", "as it is"], ["removed", "taken out"], ["open", "broken open"], ["short", "broken short"], ["wired across", "wired across"]];

const isThere = (part) => part.fitted || Object.keys(state.changes).some((key) => key.startsWith(`${part.key}.`));

function made(name, attributes) {
  const piece = document.createElementNS("http://www.w3.org/2000/svg", name);
  for (const [key, value] of Object.entries(attributes)) piece.setAttribute(key, value);
  return piece;
}

export class Circuit {
  constructor(place, places, parts, onTake) {
    this.place = place;
    this.places = places;
    this.parts = parts;
    this.onTake = onTake;
    this.byDrawn = new Map(parts.flatMap((part) => part.drawn.map((drawn) => [drawn, part])));
    this.focused = null;
    place.addEventListener("keydown", (event) => this.key(event));
    this.offer();
  }

  partOf(drawn) {
    return this.byDrawn.get(drawn) ?? this.parts.find((part) => part.key === drawn);
  }

  // Places for parts that are not there: a lamp can have them.
  offer() {
    const absent = this.parts.filter((part) => !part.fitted && part.fit && !isThere(part));
    this.places.replaceChildren(...(absent.length ? ["A place for: "] : []), ...absent.map((part) =>
      element("button", { type: "button", class: "place", "data-place": part.key, onclick: () => this.onTake(part, part.key) }, part.name)));
  }

  // Takes a drawing apart into buttons: one tab stop, arrow keys inside.
  show(text) {
    const had = this.place.contains(document.activeElement) ? this.focused : null;
    const drawn = new DOMParser().parseFromString(text, "image/svg+xml").documentElement;
    if (drawn.nodeName !== "svg") return;
    for (const title of drawn.querySelectorAll("g.part > title")) {
      const group = title.parentNode, part = this.partOf(group.dataset.part);
      if (part) {
        group.setAttribute("role", "button");
        group.setAttribute("aria-label", title.textContent);
      } else {
        group.setAttribute("role", "img");
        group.setAttribute("aria-label", title.textContent);
      }
      title.remove();
    }
    drawn.querySelectorAll(":scope > title, :scope > desc").forEach((each) => each.remove());
    drawn.setAttribute("width", drawn.viewBox.baseVal.width);
    drawn.removeAttribute("height");
    drawn.setAttribute("focusable", "false");
    const scrolled = this.place.scrollLeft;
    this.place.replaceChildren(document.importNode(drawn, true));
    this.place.scrollLeft = scrolled;
    this.buttons = [...this.place.querySelectorAll("g.part[role=button]")];
    for (const group of this.buttons) {
      const box = group.getBBox();
      group.prepend(made("rect", { x: box.x - 4, y: box.y - 4, width: box.width + 8, height: box.height + 8, rx: 4, class: "hit" }));
      group.addEventListener("click", () => this.take(group));
      group.addEventListener("focus", () => { this.focused = group.dataset.part; });
    }
    this.offer();
    this.mark(this.focused ?? state.part);
    if (had) this.group(had)?.focus();
  }

  group(name) { return this.buttons?.find((group) => group.dataset.part === name); }

  mark(name) {
    const chosen = this.group(name) ?? this.buttons?.[0];
    for (const group of this.buttons ?? []) {
      group.setAttribute("tabindex", group === chosen ? "0" : "-1");
      group.setAttribute("aria-pressed", String(group.dataset.part === state.part));
    }
  }

  take(group) {
    this.focused = group.dataset.part;
    this.onTake(this.partOf(this.focused), this.focused);
    this.mark(this.focused);
  }

  key(event) {
    const group = document.activeElement?.closest?.("g.part");
    if (!group) return;
    const n = this.buttons.indexOf(group);
    const to = { ArrowRight: n + 1, ArrowDown: n + 1, ArrowLeft: n - 1, ArrowUp: n - 1, Home: 0, End: this.buttons.length - 1 }[event.key];
    if (event.key === "Enter" || event.key === " ") this.take(group);
    else if (to !== undefined) {
      const next = this.buttons[(to + this.buttons.length) % this.buttons.length];
      this.focused = next.dataset.part;
      this.mark(this.focused);
      next.focus();
      next.scrollIntoView({ block: "nearest", inline: "nearest" });
    } else return;
    event.preventDefault();
  }

  // What each part bears at the moment of the cursor, in words at the part.
  bear(told) {
    this.place.querySelectorAll(".bears").forEach((each) => each.remove());
    for (const group of told ? this.place.querySelectorAll("g.part") : []) {
      const words = told[group.dataset.part];
      if (!words) continue;
      const box = group.querySelector(".hit")?.getBBox() ?? group.getBBox();
      const text = made("text", { class: "bears" });
      words.split(", ").forEach((word, row) => {
        const line = made("tspan", { x: box.x + box.width / 2, y: box.y + box.height - 10 + 13 * row });
        line.textContent = word;
        text.append(line);
      });
      group.append(text);
      const under = text.getBBox();
      text.before(made("rect", { class: "bears plate", x: under.x - 3, y: under.y - 1, width: under.width + 6, height: under.height + 2, rx: 3 }));
    }
  }
}

// Handles of the part in hand. `moved` is told when a value was moved, with the key that was touched.
export class Handles {
  constructor(form, title, moved) {
    this.form = form;
    this.title = title;
    this.moved = moved;
    this.rows = [];
    form.addEventListener("submit", (event) => event.preventDefault());
  }

  show(part, drawn) {
    this.part = part;
    this.rows = [];
    const there = isThere(part);
    this.title.textContent = drawn !== part.key && part.drawn.length > 1 ? `${part.name}: ${drawn.replaceAll("_", " ")}` : part.name[0].toUpperCase() + part.name.slice(1);
    const shown = [];
    if (!there) {
      shown.push(element("p", {}, `Not fitted. ${part.fit ? `Tried first: ${part.fit.words}.` : ""}`),
        element("button", { type: "button", id: "fit", onclick: () => { Object.assign(state.changes, part.fit.change); this.moved(this.mainKey()); this.show(part, drawn); this.focusFirst(); } }, `Fit ${part.name}`));
      this.form.replaceChildren(...shown);
      return;
    }
    shown.push(this.states(part, drawn));
    const main = part.handles.filter((handle) => handle.main), more = part.handles.filter((handle) => !handle.main);
    shown.push(...main.map((handle) => this.handle(handle)));
    if (more.length) {
      const rest = more.map((handle) => this.handle(handle));
      shown.push(main.length ? element("details", {}, element("summary", {}, `${more.length} further values`), ...rest) : element("div", {}, ...rest));
    }
    this.form.replaceChildren(...shown);
  }

  mainKey() { return this.part.handles.find((handle) => handle.main)?.key ?? ""; }
  focusFirst() { this.form.querySelector("input[type=range], select")?.focus(); }

  states(part, drawn) {
    const can = part.states.find((each) => each.part === drawn) ?? part.states[0];
    const key = can?.part ?? part.key;
    const choices = part.fitted
      ? STATES.filter(([word]) => !word || can?.states.includes(word))
      : [["", "fitted"], ["none", "not fitted"]];
    const now = state.changes[key] === "none" ? "removed" : typeof state.changes[key] === "string" ? state.changes[key] : "";
    const set = (word) => {
      delete state.changes[key];
      if (!part.fitted && word === "none") {
        for (const each of Object.keys(state.changes)) if (each.startsWith(`${part.key}.`)) delete state.changes[each];
        this.moved("");
        this.show(part, drawn);
        return;
      }
      if (word === "removed" && part.removable && key === part.key) state.changes[key] = "none";
      else if (word) state.changes[key] = word;
      if (state.changes[key] === "none") for (const each of Object.keys(state.changes)) if (each.startsWith(`${part.key}.`)) delete state.changes[each];
      this.moved("");
    };
    return element("fieldset", { class: "choices" }, element("legend", {}, "What is done to it"),
      ...choices.map(([word, said]) => element("label", {}, element("input", { type: "radio", name: "part-state", value: word, checked: now === word, onchange: () => set(word) }), said)));
  }

  handle(handle) {
    const id = `h-${handle.key.replaceAll(".", "-")}`;
    const row = { handle };
    row.note = element("small", { id: `${id}-note` });
    const label = element("label", { for: id }, handle.label);
    if (handle.choice) {
      row.input = element("select", { id, "aria-describedby": `${id}-note`, onchange: () => this.set(row, row.input.selectedIndex) },
        ...handle.steps.map((step) => element("option", {}, step)));
      if (!handle.steps.includes(handle.now)) row.input.prepend(element("option", {}, handle.now));
      row.texts = [...row.input.options].map((option) => option.textContent);
      row.element = element("div", { class: "handle choice" }, label, row.input, row.note);
    } else {
      row.texts = handle.steps;
      row.input = element("input", {
        type: "text", id, size: 9, maxlength: 40, spellcheck: false, "aria-describedby": `${id}-note`,
        onchange: () => this.type(row), onkeydown: (event) => this.stepKey(event, row),
      });
      const parts = [label];
      if (handle.steps.length > 1) {
        row.range = element("input", {
          type: "range", min: "0", max: String(handle.steps.length - 1), step: "1", "aria-label": `${this.part.name}, ${handle.label}`,
          "aria-describedby": `${id}-note`, oninput: () => this.set(row, Number(row.range.value)), onkeydown: (event) => this.stepKey(event, row),
        });
        parts.push(row.range);
      }
      row.element = element("div", { class: "handle" }, ...parts, row.input, row.note);
    }
    this.rows.push(row);
    this.refresh(row);
    return row.element;
  }

  // What stands in a handle: the hand's value, else that as found.
  text(handle) {
    if (handle.sets) {
      const n = handle.sets.findIndex((set) => Object.entries(set).every(([key, value]) => state.changes[key] === value));
      return n >= 0 ? handle.steps[n] : handle.now;
    }
    const value = state.changes[handle.key];
    return value === undefined ? handle.now : String(value);
  }

  nearest(handle, text) {
    const exact = handle.steps.indexOf(text);
    if (exact >= 0) return exact;
    const wanted = size(text);
    let best = 0;
    handle.steps.forEach((step, n) => { if (Math.abs(Math.log(size(step) / wanted)) < Math.abs(Math.log(size(handle.steps[best]) / wanted))) best = n; });
    return best;
  }

  refresh(row) {
    const { handle } = row, text = this.text(handle), changed = text !== handle.now;
    if (handle.choice) row.input.value = text;
    else {
      row.input.value = text;
      if (row.range) {
        row.range.value = String(this.nearest(handle, text));
        row.range.setAttribute("aria-valuetext", changed && this.part.fitted ? `${text}, was ${handle.now}` : text);
      }
    }
    row.note.textContent = changed && this.part.fitted ? `was ${handle.now}` : !changed && handle.assumed ? "typical" : "";
    row.element.classList.toggle("changed", changed && this.part.fitted);
  }

  set(row, n) {
    const { handle } = row, text = row.texts[n];
    if (handle.sets) {
      for (const key of Object.keys(handle.sets[0])) delete state.changes[key];
      const set = handle.sets[handle.steps.indexOf(text)];
      if (set && text !== handle.now) Object.assign(state.changes, set);
    } else if (text === handle.now && this.part.fitted) delete state.changes[handle.key];
    else state.changes[handle.key] = handle.whole ? Number(text) : text;
    row.input.removeAttribute("aria-invalid");
    this.refresh(row);
    this.moved(handle.key, row);
  }

  type(row) {
    const { handle } = row, text = row.input.value.trim();
    if (!text || text === handle.now) {
      if (this.part.fitted) delete state.changes[handle.key]; else state.changes[handle.key] = handle.now;
    } else state.changes[handle.key] = handle.whole && /^\d+$/.test(text) ? Number(text) : text;
    this.refresh(row);
    this.moved(handle.key, row);
  }

  // Arrow keys a step, page keys a decade.
  stepKey(event, row) {
    const { handle } = row, typing = event.target === row.input;
    const now = this.nearest(handle, this.text(handle)), last = handle.steps.length - 1;
    if (last < 1) return;
    const decade = (up) => {
      const wanted = size(handle.steps[now]) * (up ? 10 : 0.1);
      const found = handle.steps.findIndex((step) => size(step) >= wanted * 0.999);
      return found < 0 ? last : found;
    };
    const keys = { ArrowUp: now + 1, ArrowDown: now - 1, PageUp: handle.whole ? now + 10 : decade(true), PageDown: handle.whole ? now - 10 : decade(false) };
    if (!typing) Object.assign(keys, { ArrowRight: now + 1, ArrowLeft: now - 1, Home: 0, End: last });
    const to = keys[event.key];
    if (to === undefined) return;
    event.preventDefault();
    const n = Math.min(last, Math.max(0, to));
    if (n !== now || this.text(handle) !== handle.steps[n]) this.set(row, n);
  }

  refuse(row, words) {
    if (row) row.input.setAttribute("aria-invalid", "true");
    return words;
  }

  again() { this.rows.forEach((row) => this.refresh(row)); }
}
