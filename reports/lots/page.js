"use strict";
(() => {
  const table = document.getElementById("lot-table");
  const body = table.tBodies[0];
  const rows = [...body.rows].filter((row) => row.dataset.verdict !== undefined);
  const controls = document.getElementById("controls");
  const search = document.getElementById("search");
  const verdict = document.getElementById("verdict");
  const unflagged = document.getElementById("unflagged");
  const shown = document.getElementById("shown");
  const texts = new Map(rows.map((row) => [row, row.textContent.toLocaleLowerCase()]));

  const filter = () => {
    const words = search.value.toLocaleLowerCase().split(/\s+/).filter(Boolean);
    let count = 0;
    for (const row of rows) {
      const kept =
        words.every((word) => texts.get(row).includes(word)) &&
        (!verdict.value || row.dataset.verdict === verdict.value) &&
        (!unflagged.checked || row.dataset.flags === "0");
      row.hidden = !kept;
      count += kept ? 1 : 0;
    }
    shown.textContent = `${count} of ${rows.length} lots`;
  };

  const sort = (heading, column) => {
    const now = heading.getAttribute("aria-sort");
    const rising = now === null ? !heading.classList.contains("figure") : now !== "ascending";
    const asNumber = heading.dataset.sort === "number";
    const sign = rising ? 1 : -1;
    const key = (row) => row.cells[column].dataset.key;
    const compare = (left, right) => {
      const [a, b] = [key(left), key(right)];
      if (a === "" || b === "") return (a === "" ? 1 : 0) - (b === "" ? 1 : 0);
      return sign * (asNumber ? Number(a) - Number(b) : a.localeCompare(b));
    };
    body.append(...rows.sort(compare));
    for (const other of table.tHead.rows[0].cells) other.removeAttribute("aria-sort");
    heading.setAttribute("aria-sort", rising ? "ascending" : "descending");
  };

  [...table.tHead.rows[0].cells].forEach((heading, column) => {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = heading.textContent;
    button.addEventListener("click", () => sort(heading, column));
    heading.replaceChildren(button);
  });
  for (const row of rows) {
    const button = document.createElement("button");
    button.type = "button";
    button.className = "fold";
    button.setAttribute("aria-label", `All about lot ${row.cells[0].dataset.key}`);
    button.setAttribute("aria-expanded", "false");
    button.addEventListener("click", () => {
      button.setAttribute("aria-expanded", String(row.classList.toggle("open")));
    });
    row.cells[0].append(button);
  }
  table.classList.add("folds");
  controls.addEventListener("submit", (event) => event.preventDefault());
  for (const control of [search, verdict, unflagged]) control.addEventListener("input", filter);
  controls.hidden = false;
  filter();
})();
