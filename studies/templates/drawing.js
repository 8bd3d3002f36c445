// Elements, words and scales that all parts of the explorer share.
const SVG = "http://www.w3.org/2000/svg";

function make(name, attributes, parent, text) {
  const node = document.createElement(name);
  for (const key in attributes) node.setAttribute(key, attributes[key]);
  if (text !== undefined) node.textContent = text;
  if (parent) parent.appendChild(node);
  return node;
}

function draw(name, attributes, parent, text) {
  const node = document.createElementNS(SVG, name);
  for (const key in attributes) node.setAttribute(key, attributes[key]);
  if (text !== undefined) node.textContent = text;
  if (parent) parent.appendChild(node);
  return node;
}

function label(column) { return column.unit ? column.name + " [" + column.unit + "]" : column.name; }

function said(value, column) {
  if (value === null) return "never";
  const text = typeof value === "number" ? String(Number(value.toPrecision(4))) : value;
  return column.unit ? text + " " + column.unit : text;
}

// Round numbers between two ends, four to nine of them.
function ticks(low, high) {
  const rough = (high - low) / 5, tenth = Math.pow(10, Math.floor(Math.log10(rough)));
  const step = tenth * [1, 2, 5, 10].find((m) => m * tenth >= rough);
  const found = [];
  for (let k = Math.ceil(low / step); k * step <= high; k++) found.push(k * step);
  return found;
}

// Whether day, bill, limits and pieces of a design are kept.
function kept(data, k) { return Boolean(data.shown && data.shown.designs[k]); }

// A table of words, the first cell of each row its head.
function tabled(parent, caption, heads, rows) {
  const table = make("table", {}, make("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": caption }, parent));
  make("caption", {}, table, caption);
  const head = make("tr", {}, make("thead", {}, table));
  heads.forEach((text) => make("th", { scope: "col" }, head, text));
  const body = make("tbody", {}, table);
  for (const cells of rows) {
    const row = make("tr", {}, body);
    cells.forEach((text, k) => make(k ? "td" : "th", k ? {} : { scope: "row" }, row, text));
  }
  return table;
}
