(() => {
  "use strict";
  // The page is whole without this script: it sorts and filters the tables, and unfolds for paper.
  const tools = document.getElementById("tools");
  const filter = document.getElementById("filter");
  const onlyInside = document.getElementById("only-inside");
  const shown = document.getElementById("shown");
  const tables = [...document.querySelectorAll("table.variants")];
  const rows = (table) => [...table.querySelectorAll("tr.row")];
  const below = (row) => row.nextElementSibling?.matches("tr.told") ? [row.nextElementSibling] : [];

  const order = (row, column) => {
    const cell = row.children[column];
    return cell.dataset.order === undefined ? cell.textContent.trim() : Number(cell.dataset.order);
  };

  const sort = (table, column) => {
    const heads = [...table.tHead.rows[0].cells];
    const descending = heads[column].getAttribute("aria-sort") === "ascending";
    heads.forEach((head) => head.removeAttribute("aria-sort"));
    heads[column].setAttribute("aria-sort", descending ? "descending" : "ascending");
    const sorted = rows(table).map((row) => [row, ...below(row)]).sort(([a], [b]) => {
      const [x, y] = [order(a, column), order(b, column)];
      if (typeof x === "string") return descending ? y.localeCompare(x) : x.localeCompare(y);
      // A hole stays at the end, whichever way the column is sorted.
      if (!Number.isFinite(x) || !Number.isFinite(y)) return Number.isFinite(y) - Number.isFinite(x);
      return descending ? y - x : x - y;
    });
    table.tBodies[0].append(...sorted.flat());
  };

  tables.forEach((table) => {
    const buttons = [...table.tHead.rows[0].cells].map((head, column) => {
      const button = document.createElement("button");
      button.type = "button";
      button.append(...head.childNodes);
      // One stop of the tabulator for all of them; arrows go from one to the next.
      button.tabIndex = column === 0 ? 0 : -1;
      button.addEventListener("click", () => sort(table, column));
      head.replaceChildren(button);
      return button;
    });
    table.tHead.addEventListener("keydown", (event) => {
      const step = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
      const now = buttons.indexOf(document.activeElement);
      if (!step || now < 0) return;
      const next = buttons[(now + step + buttons.length) % buttons.length];
      buttons.forEach((button) => { button.tabIndex = button === next ? 0 : -1; });
      next.focus();
      event.preventDefault();
    });
    // A mark unfolds the verdicts of its row, for a pointer or a finger.
    table.addEventListener("click", (event) => {
      if (event.target.matches(".mark")) event.target.closest("tr").querySelector(".unfold input")?.click();
    });
  });

  const narrow = () => {
    const words = filter.value.trim().toLowerCase();
    const fits = (row) =>
      row.dataset.name.toLowerCase().includes(words) && (!onlyInside.checked || row.dataset.over === "0");
    tables.flatMap(rows).forEach((row) => [row, ...below(row)].forEach((each) => { each.hidden = !fits(row); }));
    const table = tables.find((each) => each.offsetParent) ?? tables[0];
    shown.textContent = `${rows(table).filter(fits).length} of ${rows(table).length} shown`;
  };

  filter.addEventListener("input", narrow);
  onlyInside.addEventListener("change", narrow);
  tools.addEventListener("submit", (event) => event.preventDefault());
  tools.hidden = false;

  // On a phone the pictures come before the list of all that could be in them.
  const picker = document.querySelector(".picker");
  if (picker && matchMedia("(max-width: 40rem)").matches) picker.open = false;

  // Paper cannot be unfolded.
  const folded = () => [...document.querySelectorAll("details.paper:not([open])")];
  let opened = [];
  addEventListener("beforeprint", () => {
    opened = folded();
    opened.forEach((details) => { details.open = true; });
  });
  addEventListener("afterprint", () => opened.forEach((details) => { details.open = false; }));
})();
