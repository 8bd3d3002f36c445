"use strict";
// Look through the designs of a search: a plot of two goals, one design in full, one factor moved, a table.
(function () {
  const SVG = "http://www.w3.org/2000/svg";
  const MOST = 200; // rows shown at once; the rest is a filter away

  function make(name, attributes, parent, text) {
    const node = document.createElement(name);
    for (const key in attributes) node.setAttribute(key, attributes[key]);
    if (text !== undefined) node.textContent = text;
    if (parent) parent.appendChild(node);
    return node;
  }

  function draw(name, attributes, parent) {
    const node = document.createElementNS(SVG, name);
    for (const key in attributes) node.setAttribute(key, attributes[key]);
    parent.appendChild(node);
    return node;
  }

  function label(column) { return column.unit ? column.name + " [" + column.unit + "]" : column.name; }
  function said(value, column) {
    if (value === null) return "never";
    const text = typeof value === "number" ? String(Number(value.toPrecision(4))) : value;
    return column.unit ? text + " " + column.unit : text;
  }

  function explorer(host) {
    const data = JSON.parse(document.getElementById(host.dataset.of).textContent);
    const goals = data.columns.map((c, k) => k).filter((k) => data.columns[k].role === "goal");
    const state = { picked: data.chosen, x: goals[0], y: goals[Math.min(1, goals.length - 1)], sort: -1, down: false, filter: "" };

    // The plot of two goals.
    const choices = make("p", {}, host);
    const axes = { x: null, y: null };
    for (const axis of ["x", "y"]) {
      const box = make("label", {}, choices, axis === "x" ? "across" : "up");
      axes[axis] = make("select", {}, box);
      for (const k of goals) make("option", { value: k }, axes[axis], label(data.columns[k]));
      axes[axis].value = state[axis];
      axes[axis].addEventListener("change", () => { state[axis] = Number(axes[axis].value); plot(); });
    }
    const pair = make("div", { class: "pair" }, host);
    const svg = document.createElementNS(SVG, "svg");
    for (const [key, value] of Object.entries({ viewBox: "0 0 480 320", role: "application", tabindex: "0",
      "aria-label": "Designs by two goals. Arrow keys move along the designs that no other beats." })) svg.setAttribute(key, value);
    pair.appendChild(svg);
    const picked = make("div", { class: "picked", "aria-live": "polite" }, pair);

    function span(k) {
      const values = data.rows.map((row) => row[k]).filter((v) => typeof v === "number");
      const low = Math.min(...values), high = Math.max(...values), room = 0.05 * (high - low || 1);
      return [low - room, high + room];
    }

    // Round numbers between two ends, four to nine of them.
    function ticks(low, high) {
      const rough = (high - low) / 5, tenth = Math.pow(10, Math.floor(Math.log10(rough)));
      const step = tenth * [1, 2, 5, 10].find((m) => m * tenth >= rough);
      const found = [];
      for (let k = Math.ceil(low / step); k * step <= high; k++) found.push(k * step);
      return found;
    }

    function plot() {
      svg.replaceChildren();
      const [x0, x1] = span(state.x), [y0, y1] = span(state.y);
      const X = (v) => 56 + 410 * (v - x0) / (x1 - x0), Y = (v) => 272 - 256 * (v - y0) / (y1 - y0);
      draw("path", { d: "M56 16V272H466", fill: "none", stroke: "currentColor" }, svg);
      for (const u of ticks(x0, x1)) {
        const a = draw("text", { x: X(u), y: 288, "text-anchor": "middle", "font-size": 11, fill: "currentColor" }, svg);
        a.textContent = Number(u.toPrecision(6));
        draw("path", { d: "M" + X(u) + " 272v4", stroke: "currentColor" }, svg);
      }
      for (const v of ticks(y0, y1)) {
        const b = draw("text", { x: 50, y: Y(v) + 4, "text-anchor": "end", "font-size": 11, fill: "currentColor" }, svg);
        b.textContent = Number(v.toPrecision(6));
        draw("path", { d: "M52 " + Y(v) + "h4", stroke: "currentColor" }, svg);
      }
      const across = draw("text", { x: 260, y: 308, "text-anchor": "middle", "font-size": 12, fill: "currentColor" }, svg);
      across.textContent = label(data.columns[state.x]);
      const up = draw("text", { x: 12, y: 144, "text-anchor": "middle", "font-size": 12, fill: "currentColor", transform: "rotate(-90 12 144)" }, svg);
      up.textContent = label(data.columns[state.y]);
      const front = new Set(data.front);
      const order = data.rows.map((_, k) => k).sort((a, b) => front.has(a) - front.has(b));
      for (const k of order) {
        const row = data.rows[k];
        if (typeof row[state.x] !== "number" || typeof row[state.y] !== "number") continue;
        const mine = k === state.picked;
        const dot = draw("circle", { cx: X(row[state.x]), cy: Y(row[state.y]), r: mine ? 7 : front.has(k) ? 4.5 : 2.5,
          fill: mine ? "var(--pick)" : front.has(k) ? "var(--mark)" : "var(--faint)", "fill-opacity": front.has(k) || mine ? 1 : 0.5,
          stroke: mine ? "currentColor" : "none", "data-row": k }, svg);
        dot.style.cursor = "pointer";
        dot.addEventListener("click", () => pick(k));
      }
    }

    svg.addEventListener("keydown", (event) => {
      const step = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
      if (!step || !data.front.length) return;
      event.preventDefault();
      const along = data.front.slice().sort((a, b) => data.rows[a][state.x] - data.rows[b][state.x]);
      const at = along.indexOf(state.picked);
      pick(along[(Math.max(at, step > 0 ? -1 : 0) + step + along.length) % along.length]);
    });

    function pick(k) {
      state.picked = k;
      picked.replaceChildren();
      const where = k === data.chosen ? "the chosen one" : data.front.includes(k) ? "no other beats it" : "others beat it";
      make("strong", {}, picked, "Design " + k + ": " + where);
      const list = make("dl", {}, picked);
      data.columns.forEach((column, c) => {
        make("dt", {}, list, column.name);
        const value = data.rows[k][c], base = data.rows[data.chosen][c];
        let text = said(value, column);
        if (k !== data.chosen && column.role === "goal" && typeof value === "number" && typeof base === "number") {
          const more = Number((value - base).toPrecision(3));
          text += " (" + (more >= 0 ? "+" : "") + more + ")";
        }
        make("dd", {}, list, text);
      });
      plot();
      mark();
    }

    // One factor moved.
    make("h3", {}, host, "Move one factor of the chosen design");
    for (const slice of data.slices) {
      const line = make("div", { class: "slice" }, host);
      const id = host.dataset.of + "-" + slice.name.replace(/\W+/g, "-");
      make("label", { for: id }, line, label(slice));
      const range = make("input", { type: "range", id: id, min: 0, max: slice.at.length - 1, value: slice.chosen }, line);
      const out = make("output", { for: id }, line);
      const tell = () => {
        const k = Number(range.value);
        const at = said(slice.at[k], slice) + (k === slice.chosen ? " (chosen)" : "");
        range.setAttribute("aria-valuetext", at);
        out.textContent = at + ": " + slice.goals.map((g) => g.name + " " + said(g.values[k], g)).join(", ");
      };
      range.addEventListener("input", tell);
      tell();
    }

    // The table.
    make("h3", {}, host, "All designs");
    const filterBox = make("label", {}, host, "show only rows with");
    const filter = make("input", { type: "search", placeholder: "a word or number" }, filterBox);
    const count = make("p", { class: "hint", "aria-live": "polite" }, host);
    const table = make("table", {}, make("div", { class: "scroll" }, host));
    const head = make("tr", {}, make("thead", {}, table));
    data.columns.forEach((column, c) => {
      const cell = make("th", { scope: "col", "aria-sort": "none" }, head);
      make("button", { type: "button" }, cell, label(column)).addEventListener("click", () => {
        state.down = state.sort === c ? !state.down : column.better === "more";
        state.sort = c;
        head.querySelectorAll("th").forEach((th, k) => th.setAttribute("aria-sort", k !== c ? "none" : state.down ? "descending" : "ascending"));
        fill();
      });
    });
    const body = make("tbody", {}, table);

    function fill() {
      let order = data.rows.map((_, k) => k);
      if (state.filter) {
        const words = state.filter.toLowerCase().split(/\s+/);
        order = order.filter((k) => { const text = data.rows[k].join(" ").toLowerCase(); return words.every((w) => text.includes(w)); });
      }
      if (state.sort >= 0) {
        const c = state.sort, way = state.down ? -1 : 1;
        order.sort((a, b) => {
          const u = data.rows[a][c], v = data.rows[b][c];
          if (u === v) return a - b;
          if (u === null) return 1; // never is last, whichever way
          if (v === null) return -1;
          return (u < v ? -1 : 1) * way;
        });
      }
      body.replaceChildren();
      const shown = document.createDocumentFragment();
      for (const k of order.slice(0, MOST)) {
        const row = make("tr", { "data-row": k }, shown);
        data.columns.forEach((column, c) => make("td", {}, row, said(data.rows[k][c], { unit: "" })));
      }
      body.appendChild(shown);
      count.textContent = order.length + " of " + data.rows.length + " designs" + (order.length > MOST ? ", the first " + MOST + " shown" : "");
      mark();
    }

    function mark() {
      body.querySelectorAll("tr").forEach((row) => row.setAttribute("aria-selected", String(Number(row.dataset.row) === state.picked)));
    }

    body.addEventListener("click", (event) => { const row = event.target.closest("tr"); if (row) pick(Number(row.dataset.row)); });
    filter.addEventListener("input", () => { state.filter = filter.value.trim(); fill(); });
    fill();
    pick(data.chosen);
  }

  document.querySelectorAll(".explorer").forEach(explorer);
})();
