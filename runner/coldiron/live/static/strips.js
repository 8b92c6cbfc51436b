// Strips on one axis of time: as found broad and grey, pins in their pens, the hand's line solid.

const INK = "#26303a", FAINT = "#565f69", GRID = "#e2ddd0", LIMIT = "#8c2346", PAPER = "#fdfcf8";
const LETTERS = "12px Charter, 'Bitstream Charter', Georgia, 'DejaVu Serif', serif";
const MOST_RUNS = 8; // as found, six pins, the hand
const LABEL_PX = 96, AXIS_PX = 54, RIGHT_PX = 14;

export function unpacked(text) {
  const bytes = Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
  return new Float32Array(bytes.buffer);
}

export function figure(value) {
  if (!Number.isFinite(value)) return "–";
  if (Math.abs(value) < 5e-7) return "0";
  for (const [least, factor, prefix] of [[0.9995, 1, ""], [0.9995e-3, 1e3, "m"], [0, 1e6, "µ"]]) {
    if (Math.abs(value) >= least) {
      const scaled = value * factor, digits = Math.max(0, 2 - Math.floor(Math.log10(Math.abs(scaled))));
      return `${scaled.toFixed(Math.min(3, digits))}${prefix ? ` ${prefix}` : ""}`.replace("-", "−");
    }
  }
  return "0";
}

export const withUnit = (value, unit) => {
  const text = figure(value);
  return /[mµ]$/.test(text) ? `${text}${unit}` : `${text} ${unit}`;
};

// Value of a run at a moment, between its own instants by straight lines.
export function at(run, name, moment) {
  const row = run.rows.get(name), time = run.time;
  if (!row || moment < time[0] || moment > time[time.length - 1]) return NaN;
  let low = 0, high = time.length - 1;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (time[middle] <= moment) low = middle; else high = middle;
  }
  const width = time[high] - time[low];
  return width > 0 ? row[low] + (row[high] - row[low]) * (moment - time[low]) / width : row[high];
}

export function runOf(told, pen, title) {
  if (!told.time) return null;
  const rows = new Map(told.strips.map((strip) => [strip.name, unpacked(strip.row)]));
  return { time: unpacked(told.time), rows, pen, title, told };
}

const SHAPES = {
  o: (c, x, y, r) => c.arc(x, y, r, 0, 7),
  s: (c, x, y, r) => c.rect(x - r, y - r, 2 * r, 2 * r),
  D: (c, x, y, r) => { c.moveTo(x, y - r); c.lineTo(x + r, y); c.lineTo(x, y + r); c.lineTo(x - r, y); c.closePath(); },
  "^": (c, x, y, r) => { c.moveTo(x, y - r); c.lineTo(x + r, y + r); c.lineTo(x - r, y + r); c.closePath(); },
  v: (c, x, y, r) => { c.moveTo(x, y + r); c.lineTo(x + r, y - r); c.lineTo(x - r, y - r); c.closePath(); },
  P: (c, x, y, r) => { c.moveTo(x - r, y); c.lineTo(x + r, y); c.moveTo(x, y - r); c.lineTo(x, y + r); },
  X: (c, x, y, r) => { c.moveTo(x - r, y - r); c.lineTo(x + r, y + r); c.moveTo(x - r, y + r); c.lineTo(x + r, y - r); },
};

export class Sheet {
  constructor(place, onMoment) {
    this.place = place;
    this.onMoment = onMoment;
    this.plots = [];
    this.runs = [];
    this.scales = new Map();
    this.shape = "";
    this.held = false;
    this.moment = null;
    this.view = null;
    new ResizeObserver(() => this.resized()).observe(place);
    place.addEventListener("keydown", (event) => this.key(event));
  }

  // Draws runs: found first, pins, then the hand. A new axis or another set of strips makes new plots.
  draw(runs, axis, levels) {
    this.runs = runs;
    this.levels = levels;
    const names = runs.at(-1).told.strips.map((strip) => [strip.name, strip.unit]);
    const shape = JSON.stringify([axis.unit, axis.decades, axis.title, names]);
    if (shape !== this.shape) {
      this.shape = shape;
      this.axis = axis;
      this.names = names;
      this.scales.clear();
      this.view = [...axis.first];
      this.moment = null;
      this.build();
    }
    this.fill();
  }

  build() {
    for (const plot of this.plots) plot.destroy();
    this.place.replaceChildren();
    this.plots = [];
    this.labels = [];
    this.names.forEach(([name, unit], row) => {
      const last = row === this.names.length - 1;
      const line = document.createElement("div");
      line.className = "strip";
      const label = document.createElement("div");
      label.className = "strip-name";
      label.innerHTML = "<b></b><span></span><small></small>";
      label.children[0].textContent = `${name} [${unit}]`;
      const paper = document.createElement("div");
      line.append(label, paper);
      this.place.append(line);
      this.labels.push(label);
      this.plots.push(new uPlot(this.options(name, last), [[0, 1], ...Array(MOST_RUNS).fill([null, null])], paper));
    });
  }

  // Nothing to draw: lines of another bench must not stand there.
  clear() {
    for (const plot of this.plots) plot.destroy();
    this.place.replaceChildren();
    Object.assign(this, { plots: [], runs: [], shape: "", moment: null });
  }

  width() { return Math.max(180, this.place.clientWidth - (this.narrow() ? 0 : LABEL_PX) - 2); }
  narrow() { return this.place.clientWidth < 520; }

  options(name, last) {
    const axis = {
      stroke: INK, font: LETTERS, grid: { stroke: GRID, width: 1 }, ticks: { stroke: GRID, width: 1, size: 4 },
    };
    return {
      width: this.width(), height: last ? 122 : 86, pxAlign: 0, legend: { show: false },
      padding: [6, RIGHT_PX, last ? 0 : 4, 0],
      focus: { alpha: 1 },
      cursor: {
        y: false, points: { show: false }, drag: { x: true, y: false, setScale: false },
        sync: { key: "sheet", setSeries: false },
        move: (plot, left, top) => (this.held ? [plot.cursor.left, top] : [left, top]),
      },
      scales: {
        x: { time: false, distr: this.axis.decades ? 3 : 1, range: () => this.view },
        y: { range: () => this.scales.get(name) ?? [0, 1] },
      },
      axes: [
        {
          ...axis, show: last, label: `${this.axis.title} [${this.axis.unit}]`, labelFont: LETTERS, labelSize: 18, size: 24, gap: 2,
          values: (plot, splits) => splits.map((each) => (each === null ? "" : Number(each.toPrecision(6)).toString())),
        },
        {
          ...axis, size: AXIS_PX, gap: 3, space: 24,
          values: (plot, splits) => splits.map((each) => Number(each.toPrecision(6)).toString().replace("-", "−")),
        },
      ],
      series: [{}, ...Array.from({ length: MOST_RUNS }, (_, n) => ({
        stroke: () => this.runs[n]?.pen.colour ?? INK, spanGaps: true, points: { show: false }, pxAlign: 0, show: n === 0,
      }))],
      hooks: {
        draw: [(plot) => this.decorate(plot, name)],
        setCursor: [(plot) => this.cursor(plot)],
        setSelect: [(plot) => this.selected(plot)],
        ready: [(plot) => plot.over.addEventListener("dblclick", () => this.reset())],
      },
    };
  }

  // One axis of time for every line: the union of the runs' instants, empty where a run has none.
  fill() {
    const union = Float64Array.from(new Set(this.runs.flatMap((run) => Array.from(run.time)))).sort();
    const places = this.runs.map((run) => {
      const place = new Int32Array(run.time.length);
      let n = 0;
      run.time.forEach((moment, k) => { while (union[n] < moment) n += 1; place[k] = n; });
      return place;
    });
    const time = Array.from(union), nothing = new Array(time.length).fill(null);
    this.plots.forEach((plot, k) => {
      const [name] = this.names[k];
      this.grow(name);
      const rows = this.runs.map((run, n) => {
        const row = new Array(time.length).fill(null), given = run.rows.get(name);
        if (given) places[n].forEach((place, j) => { row[place] = given[j]; });
        return row;
      });
      for (let n = 0; n < MOST_RUNS; n += 1) {
        const run = this.runs[n];
        Object.assign(plot.series[n + 1], { show: Boolean(run), width: run?.pen.width ?? 1, dash: run?.pen.dashes.map((each) => each * 1.4) ?? [] });
      }
      while (rows.length < MOST_RUNS) rows.push(nothing);
      plot.setData([time, ...rows], false);
      plot.setScale("x", { min: this.view[0], max: this.view[1] });
    });
    this.say();
  }

  // A scale grows at once and never shrinks under the hand.
  grow(name) {
    let [low, high] = this.scales.get(name) ?? [0, 0];
    for (const run of this.runs) {
      for (const value of run.rows.get(name) ?? []) {
        if (value < low) low = value;
        if (value > high) high = value;
      }
    }
    if (high - low < 1e-9) high = low + 1;
    const room = 0.06 * (high - low), was = this.scales.get(name);
    if (was && low >= was[0] && high <= was[1]) return;
    this.scales.set(name, [low < 0 ? low - room : 0, high > 0 ? high + room : 0]);
  }

  decorate(plot, name) {
    const context = plot.ctx, box = plot.bbox, ratio = devicePixelRatio;
    context.save();
    context.beginPath();
    context.rect(box.left, box.top, box.width, box.height);
    context.clip();
    const [, high] = this.scales.get(name) ?? [0, 1];
    const written = [];
    for (const [strip, value, words] of this.levels) {
      if (strip !== name || value > high) continue;
      const y = plot.valToPos(value, "y", true);
      context.strokeStyle = context.fillStyle = LIMIT;
      context.lineWidth = ratio;
      context.setLineDash([ratio, 2 * ratio]);
      context.beginPath();
      context.moveTo(box.left, y);
      context.lineTo(box.left + box.width, y);
      context.stroke();
      context.font = `${11 * ratio}px Charter, Georgia, serif`;
      context.textAlign = "right";
      const near = written.filter((each) => Math.abs(each - y) < 12 * ratio).length;
      written.push(y);
      context.fillText(words, box.left + box.width - (3 + 128 * near) * ratio, y > box.top + 14 * ratio ? y - 3 * ratio : y + 11 * ratio);
    }
    context.setLineDash([]);
    this.runs.forEach((run, n) => {
      const shape = SHAPES[run.pen.marker];
      if (!shape) return;
      for (let k = 0; k < 5; k += 1) {
        const share = 0.06 + 0.03 * (n % 5) + 0.2 * k;
        const moment = plot.posToVal(share * box.width / ratio, "x"), value = at(run, name, moment);
        if (!Number.isFinite(value)) continue;
        context.beginPath();
        shape(context, plot.valToPos(moment, "x", true), plot.valToPos(value, "y", true), 3.2 * ratio);
        context.strokeStyle = run.pen.colour;
        context.fillStyle = PAPER;
        context.lineWidth = 1.2 * ratio;
        context.fill();
        context.stroke();
      }
    });
    context.restore();
  }

  cursor(plot) {
    if (plot !== this.plots[0] && plot.cursor.event == null) return;
    if (plot.cursor.left < 0) return;
    this.moment = plot.posToVal(plot.cursor.left, "x");
    this.say();
  }

  say() {
    const hand = this.runs.at(-1), found = this.runs[0], stands = this.moment !== null;
    this.names.forEach(([name, unit], row) => {
      const [, now, was] = this.labels[row].children;
      now.textContent = stands ? withUnit(at(hand, name, this.moment), unit) : "";
      was.textContent = stands && found !== hand ? `found ${withUnit(at(found, name, this.moment), unit)}` : "";
    });
    if (stands) {
      const words = this.names.map(([name, unit]) => `${name} ${withUnit(at(hand, name, this.moment), unit)}`);
      const [first, end] = this.view;
      this.place.setAttribute("aria-valuenow", String(Math.round(1000 * (this.moment - first) / (end - first))));
      this.place.setAttribute("aria-valuetext", `${figure(this.moment)} ${this.axis.unit}: ${words.join(", ")}`);
    }
    this.onMoment(this.moment);
  }

  // Puts the cursor at a share of the axis.
  put(share) {
    const plot = this.plots[0];
    if (!plot) return;
    const left = Math.min(1, Math.max(0, share)) * plot.over.clientWidth;
    this.moment = plot.posToVal(left, "x");
    for (const each of this.plots) each.setCursor({ left, top: 10 }, false);
    this.say();
  }

  share() {
    const plot = this.plots[0];
    return this.moment === null ? 0.25 : plot.valToPos(this.moment, "x") / plot.over.clientWidth;
  }

  selected(plot) {
    const { left, width } = plot.select;
    if (width < 4) return;
    this.zoom(plot.posToVal(left, "x"), plot.posToVal(left + width, "x"));
    for (const each of this.plots) each.setSelect({ left: 0, width: 0, top: 0, height: 0 }, false);
  }

  zoom(first, end) {
    const time = this.runs.at(-1).time, least = time[0], most = time[time.length - 1];
    first = Math.max(first, this.axis.decades ? Math.max(least, 1e-4) : least);
    end = Math.min(end, most);
    if (!(end > first)) return;
    this.view = [first, end];
    for (const each of this.plots) each.setScale("x", { min: first, max: end });
    this.say();
  }

  reset() { this.zoom(...this.axis.first); }

  key(event) {
    if (!this.plots.length || event.ctrlKey || event.metaKey || event.altKey) return;
    const step = event.shiftKey ? 0.1 : 0.01, share = this.share();
    const [first, end] = this.view, middle = this.moment ?? (first + end) / 2;
    const moves = {
      ArrowLeft: () => this.put(share - step), ArrowRight: () => this.put(share + step),
      ArrowDown: () => this.put(share - step), ArrowUp: () => this.put(share + step),
      PageDown: () => this.put(share - 0.1), PageUp: () => this.put(share + 0.1),
      Home: () => this.put(0), End: () => this.put(1),
      h: () => { this.held = !this.held; this.place.classList.toggle("held", this.held); },
      "+": () => this.zoom(middle - (middle - first) / 2, middle + (end - middle) / 2),
      "-": () => this.zoom(middle - 2 * (middle - first), middle + 2 * (end - middle)),
      "0": () => this.reset(), Escape: () => { this.moment = null; this.held = false; this.say(); },
    };
    const move = moves[event.key.length === 1 ? event.key.toLowerCase() : event.key] ?? (event.key === "=" ? moves["+"] : null);
    if (!move) return;
    event.preventDefault();
    move();
  }

  resized() {
    if (!this.plots.length) return;
    const width = this.width();
    for (const plot of this.plots) if (plot.width !== width) plot.setSize({ width, height: plot.height });
  }

  // All strips on one sheet of paper, with their names.
  picture(title) {
    const ratio = devicePixelRatio, head = 26 * ratio;
    const drawn = this.plots.map((plot) => plot.ctx.canvas);
    const sheet = document.createElement("canvas");
    sheet.width = Math.max(...drawn.map((each) => each.width)) + LABEL_PX * ratio;
    sheet.height = drawn.reduce((sum, each) => sum + each.height, head);
    const context = sheet.getContext("2d");
    context.fillStyle = PAPER;
    context.fillRect(0, 0, sheet.width, sheet.height);
    context.fillStyle = INK;
    context.font = `bold ${13 * ratio}px Charter, Georgia, serif`;
    context.fillText(title, 6 * ratio, 17 * ratio);
    let top = head;
    drawn.forEach((each, row) => {
      context.drawImage(each, LABEL_PX * ratio, top);
      context.font = `${12 * ratio}px Charter, Georgia, serif`;
      const words = this.names[row][0].split(" ");
      words.forEach((word, n) => context.fillText(word, 6 * ratio, top + (16 + 14 * n) * ratio));
      context.fillStyle = FAINT;
      context.fillText(`[${this.names[row][1]}]`, 6 * ratio, top + (16 + 14 * words.length) * ratio);
      context.fillStyle = INK;
      top += each.height;
    });
    return sheet;
  }
}
