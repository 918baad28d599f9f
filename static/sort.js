// Makes tables sortable by their headings (th[data-sort]) and long ones filterable. Pages are
// complete without it.
"use strict";

const LONG = 12;

function key(row, column) {
  const cell = row.cells[column];
  return cell ? (cell.dataset.key ?? cell.textContent.trim()) : "";
}

// A number, also one with a unit behind it; feet and inches as inches.
function amount(text) {
  const feet = /^(-?)([\d.]+) ft(?: ([\d.]+) in)?$/.exec(text);
  if (feet) return (feet[1] ? -1 : 1) * (Number(feet[2]) * 12 + Number(feet[3] ?? 0));
  const number = /^([+-]?[\d.]+)(?:\s\D+)?$/.exec(text);
  return number ? Number(number[1]) : NaN;
}

function compare(a, b) {
  const x = amount(a), y = amount(b);
  if (a !== "" && b !== "" && !Number.isNaN(x) && !Number.isNaN(y)) return x - y;
  return a.localeCompare(b, "en", { numeric: true });
}

function sortable(table) {
  for (const heading of table.querySelectorAll("thead th[data-sort]")) {
    const button = document.createElement("button");
    button.type = "button";
    button.append(...heading.childNodes);
    heading.append(button);
    button.addEventListener("click", () => {
      const falling = heading.getAttribute("aria-sort") === "ascending";
      for (const other of table.querySelectorAll("th[aria-sort]")) other.removeAttribute("aria-sort");
      heading.setAttribute("aria-sort", falling ? "descending" : "ascending");
      for (const body of table.tBodies) {
        const rows = [...body.rows].sort((a, b) => {
          const order = compare(key(a, heading.cellIndex), key(b, heading.cellIndex));
          return falling ? -order : order;
        });
        body.append(...rows);
      }
    });
  }
}

function filterable(table) {
  const rows = [...table.tBodies].flatMap((body) => [...body.rows]);
  if (rows.length < LONG || !table.id) return;
  const bar = document.createElement("p");
  const label = document.createElement("label");
  const field = document.createElement("input");
  const count = document.createElement("output");
  bar.className = "filter";
  field.type = "search";
  field.id = table.id + "-filter";
  label.htmlFor = field.id;
  label.textContent = "Rows with";
  bar.append(label, field, count);
  (table.closest(".wide") ?? table).before(bar);
  field.addEventListener("input", () => {
    const words = field.value.toLowerCase().split(/\s+/).filter(Boolean);
    let shown = 0;
    for (const row of rows) {
      const text = row.textContent.toLowerCase();
      row.hidden = !words.every((word) => text.includes(word));
      if (!row.hidden) shown += 1;
    }
    count.textContent = words.length ? `${shown} of ${rows.length} rows` : "";
  });
}

for (const table of document.querySelectorAll("main table")) {
  sortable(table);
  filterable(table);
}

// A browser gives the focus to the summary of a form that came back, but for an address with a #.
if (location.hash) document.querySelector(".summary")?.focus();
