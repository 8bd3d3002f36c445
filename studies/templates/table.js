// All designs in a table that can be sorted and filtered.
const MOST = 200; // rows shown at once; the rest is a filter away

function allDesigns(host, data, pick) {
  const state = { sort: -1, down: false, filter: "" };
  make("h3", {}, host, "All designs");
  const filterBox = make("label", {}, host, "show only rows with");
  const filter = make("input", { type: "search", placeholder: "a word or number" }, filterBox);
  const count = make("p", { class: "hint", "aria-live": "polite" }, host);
  const table = make("table", {}, make("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": "All designs" }, host));
  const head = make("tr", {}, make("thead", {}, table));
  make("th", { scope: "col" }, head, "design");
  data.columns.forEach((column, c) => {
    const cell = make("th", { scope: "col", "aria-sort": "none" }, head);
    make("button", { type: "button" }, cell, label(column)).addEventListener("click", () => {
      state.down = state.sort === c ? !state.down : column.better === "more";
      state.sort = c;
      head.querySelectorAll("th[aria-sort]").forEach((th, k) => th.setAttribute("aria-sort", k !== c ? "none" : state.down ? "descending" : "ascending"));
      fill();
    });
  });
  const body = make("tbody", {}, table);
  const rows = new Map();
  let picked = null;

  function chosenRows() {
    let order = data.rows.map((_, k) => k);
    if (state.filter) {
      const words = state.filter.toLowerCase().split(/\s+/);
      order = order.filter((k) => { const text = data.rows[k].join(" ").toLowerCase(); return words.every((w) => text.includes(w)); });
    }
    if (state.sort < 0) return order;
    const c = state.sort, way = state.down ? -1 : 1;
    return order.sort((a, b) => {
      const u = data.rows[a][c], v = data.rows[b][c];
      if (u === v) return a - b;
      if (u === null) return 1; // never is last, whichever way
      if (v === null) return -1;
      return (u < v ? -1 : 1) * way;
    });
  }

  function fill() {
    const order = chosenRows(), shown = document.createDocumentFragment();
    rows.clear();
    for (const k of order.slice(0, MOST)) {
      const row = make("tr", { "data-row": k, "aria-current": String(k === picked) }, shown);
      make("button", { type: "button", "aria-label": "Pick design " + k }, make("td", {}, row), k);
      data.columns.forEach((column, c) => make("td", {}, row, said(data.rows[k][c], { unit: "" })));
      rows.set(k, row);
    }
    body.replaceChildren(shown);
    count.textContent = order.length + " of " + data.rows.length + " designs" + (order.length > MOST ? ", the first " + MOST + " shown" : "");
  }

  function mark(k) {
    if (rows.has(picked)) rows.get(picked).setAttribute("aria-current", "false");
    if (rows.has(k)) rows.get(k).setAttribute("aria-current", "true");
    picked = k;
  }

  body.addEventListener("click", (event) => { const row = event.target.closest("tr"); if (row) pick(Number(row.dataset.row)); });
  filter.addEventListener("input", () => { state.filter = filter.value.trim(); fill(); });
  fill();
  return mark;
}
