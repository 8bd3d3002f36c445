// All designs by two of their goals; the picked one stands out.
function scatter(host, data, goals, pick) {
  const at = { x: goals[0], y: goals[Math.min(1, goals.length - 1)] };
  const choices = make("p", {}, host);
  for (const axis of ["x", "y"]) {
    const box = make("label", {}, choices, axis === "x" ? "across" : "up");
    const select = make("select", {}, box);
    for (const k of goals) make("option", { value: k }, select, label(data.columns[k]));
    select.value = at[axis];
    select.addEventListener("change", () => { at[axis] = Number(select.value); plot(); mark(picked); });
  }
  const pair = make("div", { class: "pair" }, host);
  const svg = draw("svg", { viewBox: "0 0 480 320", role: "application", tabindex: "0",
    "aria-label": "Designs by two goals. Arrow keys move along the designs that no other beats, Home goes to the chosen one." }, pair);
  const front = new Set(data.front);
  let dots = new Map(), picked = data.chosen;

  function span(k) {
    let low = Infinity, high = -Infinity;
    for (const row of data.rows) {
      if (typeof row[k] === "number") { low = Math.min(low, row[k]); high = Math.max(high, row[k]); }
    }
    const room = 0.05 * (high - low || 1);
    return [low - room, high + room];
  }

  function plot() {
    svg.replaceChildren();
    dots = new Map();
    const [x0, x1] = span(at.x), [y0, y1] = span(at.y);
    const X = (v) => 56 + 410 * (v - x0) / (x1 - x0), Y = (v) => 272 - 256 * (v - y0) / (y1 - y0);
    const words = { "font-size": 11, fill: "currentColor" };
    draw("path", { d: "M56 16V272H466", fill: "none", stroke: "currentColor" }, svg);
    for (const u of ticks(x0, x1)) {
      draw("text", { ...words, x: X(u), y: 288, "text-anchor": "middle" }, svg, Number(u.toPrecision(6)));
      draw("path", { d: "M" + X(u) + " 272v4", stroke: "currentColor" }, svg);
    }
    for (const v of ticks(y0, y1)) {
      draw("text", { ...words, x: 50, y: Y(v) + 4, "text-anchor": "end" }, svg, Number(v.toPrecision(6)));
      draw("path", { d: "M52 " + Y(v) + "h4", stroke: "currentColor" }, svg);
    }
    draw("text", { ...words, x: 260, y: 308, "text-anchor": "middle" }, svg, label(data.columns[at.x]));
    draw("text", { ...words, x: 12, y: 144, "text-anchor": "middle", transform: "rotate(-90 12 144)" }, svg, label(data.columns[at.y]));
    const order = data.rows.map((_, k) => k).sort((a, b) => front.has(a) - front.has(b));
    const all = document.createDocumentFragment();
    for (const k of order) {
      const x = data.rows[k][at.x], y = data.rows[k][at.y];
      if (typeof x === "number" && typeof y === "number")
        dots.set(k, draw("circle", { cx: X(x), cy: Y(y), r: front.has(k) ? 4.5 : 2.5, "data-row": k, class: !front.has(k) ? "other" : kept(data, k) ? "best" : "best bare" }, all));
    }
    svg.appendChild(all);
  }

  // Only the two designs that change are touched: thousands of others stay as they are.
  function mark(k) {
    const was = dots.get(picked), is = dots.get(k);
    if (was) { was.classList.remove("mine"); was.setAttribute("r", front.has(picked) ? 4.5 : 2.5); }
    if (is) { is.classList.add("mine"); is.setAttribute("r", 7); svg.appendChild(is); }
    picked = k;
  }

  // A finger is wide: the nearest design within reach is meant.
  function nearest(event) {
    const box = svg.getBoundingClientRect(), scale = 480 / box.width, u = (event.clientX - box.left) * scale, v = (event.clientY - box.top) * scale;
    let best = null, least = 20 * 20;
    for (const [k, dot] of dots) {
      const far = (dot.cx.baseVal.value - u) ** 2 + (dot.cy.baseVal.value - v) ** 2;
      if (far < least) { least = far; best = k; }
    }
    return best;
  }

  svg.addEventListener("click", (event) => {
    const row = event.target.dataset.row, k = row === undefined ? nearest(event) : Number(row);
    if (k !== null) pick(k);
  });
  svg.addEventListener("keydown", (event) => {
    const step = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1, Home: 0 }[event.key];
    if (step === undefined || !data.front.length) return;
    event.preventDefault();
    if (step === 0) return pick(data.chosen);
    const along = data.front.slice().sort((a, b) => data.rows[a][at.x] - data.rows[b][at.x]);
    const place = along.indexOf(picked);
    pick(along[(Math.max(place, step > 0 ? -1 : 0) + step + along.length) % along.length]);
  });
  plot();
  return { mark, beside: pair };
}
