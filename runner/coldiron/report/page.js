(() => {
  "use strict";
  // The page is whole without this script: it sorts and filters the tables, and unfolds for paper.
  const tools = document.getElementById("tools");
  const filter = document.getElementById("filter");
  const onlyInside = document.getElementById("only-inside");
  const shown = document.getElementById("shown");
  const rows = () => [...document.querySelectorAll("table.variants tbody tr")];

  const order = (row, column) => {
    const cell = row.children[column];
    return cell.dataset.order === undefined ? cell.textContent.trim() : Number(cell.dataset.order);
  };

  const sort = (table, column) => {
    const heads = [...table.tHead.rows[0].cells];
    const descending = heads[column].getAttribute("aria-sort") === "ascending";
    heads.forEach((head) => head.removeAttribute("aria-sort"));
    heads[column].setAttribute("aria-sort", descending ? "descending" : "ascending");
    const sorted = [...table.tBodies[0].rows].sort((a, b) => {
      const [x, y] = [order(a, column), order(b, column)];
      if (typeof x === "string") return descending ? y.localeCompare(x) : x.localeCompare(y);
      // A hole stays at the end, whichever way the column is sorted.
      if (!Number.isFinite(x) || !Number.isFinite(y)) return Number.isFinite(y) - Number.isFinite(x);
      return descending ? y - x : x - y;
    });
    table.tBodies[0].append(...sorted);
  };

  document.querySelectorAll("table.variants").forEach((table) => {
    [...table.tHead.rows[0].cells].forEach((head, column) => {
      const button = document.createElement("button");
      button.type = "button";
      button.textContent = head.textContent;
      button.addEventListener("click", () => sort(table, column));
      head.replaceChildren(button);
    });
  });

  const narrow = () => {
    const words = filter.value.trim().toLowerCase();
    let left = 0;
    rows().forEach((row) => {
      const fits = row.dataset.name.toLowerCase().includes(words);
      row.hidden = !fits || (onlyInside.checked && row.dataset.over !== "0");
      left += !row.hidden;
    });
    shown.textContent = `${left} of ${rows().length} shown`;
  };

  filter.addEventListener("input", narrow);
  onlyInside.addEventListener("change", narrow);
  tools.addEventListener("submit", (event) => event.preventDefault());
  tools.hidden = false;

  // Paper cannot be unfolded.
  const folded = () => [...document.querySelectorAll("details:not([open])")];
  let opened = [];
  addEventListener("beforeprint", () => {
    opened = folded();
    opened.forEach((details) => { details.open = true; });
  });
  addEventListener("afterprint", () => opened.forEach((details) => { details.open = false; }));
})();
