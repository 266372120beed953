"use strict";
// Long tables: find rows by a word, and put them in order by a heading. Without it a table stands as it was written.

const LONG = 20;

const numberOf = (text) => {
  const plain = text.replace(/[^\d.,−-]/g, "").replace(/,/g, "").replace("−", "-");
  return plain && /\d/.test(plain) ? Number.parseFloat(plain) : Number.NaN;
};
const dayOf = (text) => (/^\d{1,2} [A-Z][a-z]+ \d{4}$/.test(text.replace(/\u00a0/g, " ")) ? Date.parse(text.replace(/\u00a0/g, " ")) : Number.NaN);

const compare = (one, other) => {
  for (const read of [dayOf, numberOf]) {
    const [a, b] = [read(one), read(other)];
    if (!Number.isNaN(a) && !Number.isNaN(b)) return a - b;
    if (!Number.isNaN(a)) return -1;
    if (!Number.isNaN(b)) return 1;
  }
  return one.localeCompare(other);
};

const addFilter = (table, rows) => {
  const label = document.createElement("label");
  label.className = "find";
  const found = document.createElement("span");
  found.className = "what";
  found.setAttribute("role", "status");
  const input = document.createElement("input");
  input.type = "search";
  label.append("Find in this table", input);
  input.addEventListener("input", () => {
    const wanted = input.value.trim().toLowerCase();
    let shown = 0;
    for (const row of rows) {
      row.hidden = !row.textContent.toLowerCase().includes(wanted);
      if (!row.hidden) shown += 1;
    }
    found.textContent = wanted ? `${shown} of ${rows.length} rows` : "";
  });
  const place = table.closest(".scrolls") || table;
  place.before(label, found);
};

const addOrder = (table, rows) => {
  const body = table.tBodies[0];
  const headings = [...table.tHead.rows[0].cells];
  headings.forEach((heading, at) => {
    const button = document.createElement("button");
    button.type = "button";
    button.className = "order";
    button.textContent = heading.textContent;
    button.title = "Put the rows in this order";
    button.addEventListener("click", () => {
      const rises = heading.getAttribute("aria-sort") !== "ascending";
      for (const other of headings) other.removeAttribute("aria-sort");
      heading.setAttribute("aria-sort", rises ? "ascending" : "descending");
      const ordered = [...rows].sort((one, other) => compare(one.cells[at].innerText.trim(), other.cells[at].innerText.trim()));
      body.append(...(rises ? ordered : ordered.reverse()));
    });
    const link = heading.querySelector("a.term");
    if (link) heading.append(" ", button), (button.textContent = "↕"), button.setAttribute("aria-label", `Order by ${link.textContent}`);
    else heading.replaceChildren(button);
  });
};

for (const table of document.querySelectorAll(".scrolls table:not([data-as-is])")) {
  const rows = table.tBodies.length ? [...table.tBodies[0].rows] : [];
  const hasOwn = table.tHead?.querySelector("a:not(.term)") || table.closest("form") || table.closest("section")?.querySelector(".controls");
  if (rows.length > LONG && table.tHead && !hasOwn) {
    addFilter(table, rows);
    addOrder(table, rows);
  }
}
