// One design in full: its numbers, and for a design of the front its day, bill, limits and pieces.
function standing(data, k) {
  return k === data.chosen ? "the chosen one" : data.front.includes(k) ? "no other beats it" : "others beat it";
}

function numbers(data, goals, beside) {
  const picked = make("div", { class: "picked" }, beside);
  const told = make("p", { "aria-live": "polite" }, picked), list = make("dl", {}, picked);
  return function (k) {
    const short = goals.map((g) => data.columns[g].name + " " + said(data.rows[k][g], data.columns[g])).join(", ");
    told.replaceChildren();
    make("strong", {}, told, "Design " + k + ": " + standing(data, k));
    make("span", { class: "unseen" }, told, ". " + short);
    list.replaceChildren();
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
  };
}

// A list of the front by name, for those who neither point nor press arrows.
function byName(host, data, goals, pick) {
  const box = make("label", { class: "front" }, host, "Open a design of the front");
  const select = make("select", {}, box);
  const along = data.front.slice().sort((a, b) => data.rows[a][goals[0]] - data.rows[b][goals[0]]);
  for (const k of along) {
    const what = data.names[k] ? " (" + data.names[k] + ")" : "";
    make("option", { value: k }, select, "Design " + k + what + ": " + goals.map((g) => said(data.rows[k][g], data.columns[g])).join(", "));
  }
  select.addEventListener("change", () => pick(Number(select.value)));
  return (k) => { select.value = data.front.includes(k) ? k : ""; };
}

const CURVES = [
  { key: "food", name: "food, coldest part", wide: 2.4 }, { key: "pot", name: "pot", wide: 1.2 },
  { key: "cover", name: "cover, inner face", wide: 1.2 },
];

function clockText(minutes) {
  const whole = Math.round(minutes) % 1440;
  return String(Math.floor(whole / 60)).padStart(2, "0") + ":" + String(whole % 60).padStart(2, "0");
}

// The day as three pictures over one clock: temperatures, light, angle off the sun.
function dayPicture(parent, shown, one, chosen, name) {
  const steps = one.food.length, end = shown.start + (steps - 1) * shown.step;
  const done = one.done === null ? "not done by the day's end" : "done at " + clockText(shown.start + one.done);
  const hot = Math.max(...one.cover);
  const svg = draw("svg", { viewBox: "0 0 480 380", role: "img", class: "day",
    "aria-label": name + " on " + shown.day + ": food " + done + "; cover at most " + hot + " " + shown.degrees + "; off the sun at most " + Math.max(...one.off) + " deg." }, parent);
  const X = (minutes) => 50 + 412 * (minutes - shown.start) / (end - shown.start);
  const line = (values, Y) => values.map((v, k) => (k ? "L" : "M") + X(shown.start + k * shown.step).toFixed(1) + " " + Y(v).toFixed(1)).join("");
  const words = { "font-size": 10.5, fill: "currentColor" };

  function panel(top, height, low, high, text) {
    const Y = (v) => top + height - height * (v - low) / (high - low);
    draw("path", { d: "M50 " + top + "v" + height + "H462", fill: "none", stroke: "currentColor" }, svg);
    for (const v of ticks(low, high)) draw("text", { ...words, x: 45, y: Y(v) + 3.5, "text-anchor": "end" }, svg, Number(v.toPrecision(4)));
    draw("text", { ...words, x: 12, y: top + height / 2, "text-anchor": "middle", transform: "rotate(-90 12 " + (top + height / 2) + ")" }, svg, text);
    return Y;
  }

  const all = [...CURVES.flatMap((curve) => one[curve.key]), ...shown.air];
  const low = Math.min(...all) - 2, high = Math.max(...all) + 2;
  let Y = panel(8, 190, low, high, shown.degrees.replace("deg", "°"));
  const [cold, warm] = shown.band.map((v) => Math.min(Math.max(v, low), high));
  draw("rect", { x: 50, y: Y(warm), width: 412, height: Y(cold) - Y(warm), class: "germs" }, svg);
  draw("path", { d: line(shown.air, Y), class: "air" }, svg);
  if (chosen && chosen !== one) draw("path", { d: line(chosen.food, Y), class: "before" }, svg);
  for (const curve of CURVES) draw("path", { d: line(one[curve.key], Y), class: curve.key, "stroke-width": curve.wide }, svg);
  for (const [after, text] of [[one.safe, "safe"], [one.done, "done"]]) {
    if (after === null) continue;
    draw("path", { d: "M" + X(shown.start + after) + " 8v190", class: "moment" }, svg);
    draw("text", { ...words, x: X(shown.start + after) + 3, y: 192 }, svg, text);
  }
  Y = panel(212, 80, 0, 1.05 * Math.max(...shown.sun, ...one.light), "W, W/m²");
  draw("path", { d: line(shown.sun, Y), class: "sun" }, svg);
  draw("path", { d: line(one.light, Y), class: "food" }, svg);
  Y = panel(306, 46, 0, 1.05 * Math.max(...one.off, 1), "off, deg");
  draw("path", { d: line(one.off, Y), class: "off" }, svg);
  for (let hour = Math.ceil(shown.start / 60); hour * 60 <= end; hour++)
    draw("text", { ...words, x: X(hour * 60), y: 368, "text-anchor": "middle" }, svg, clockText(hour * 60));
}

function legend(parent, compared) {
  const keys = [["food", "food, coldest part; below, light the pot takes in [W]"], ["pot", "pot"], ["cover", "cover, inner face"], ["air", "air outside"],
    ["sun", "beam facing the sun [W/m²]"], ["off", "angle off the sun"], ["germs", "where germs grow"]];
  if (compared) keys.splice(1, 0, ["before", "food in the chosen design"]);
  const list = make("ul", { class: "legend" }, parent);
  for (const [key, text] of keys) make("li", { class: "key-" + key }, list, text);
}

// The design of the front nearest to one that is kept in full, goals taken over their range on the front.
function nearestKept(data, goals, k) {
  const wide = goals.map((g) => { const all = data.front.map((m) => data.rows[m][g]); return Math.max(...all) - Math.min(...all) || 1; });
  const far = (m) => goals.reduce((sum, g, n) => sum + ((data.rows[m][g] - data.rows[k][g]) / wide[n]) ** 2, 0);
  return data.front.filter((m) => kept(data, m)).reduce((best, m) => (far(m) < far(best) ? m : best));
}

function opened(host, data, goals, pick) {
  const shown = data.shown, panel = make("div", { class: "opened" }, host);
  return function (k) {
    panel.replaceChildren();
    if (!shown) return make("p", { class: "hint" }, panel, "Days, bills and pieces of single designs are not kept in this result; run its search again.");
    const one = shown.designs[k], name = "Design " + k;
    if (!data.front.includes(k)) return make("p", { class: "hint" }, panel, "Day, bill, limits and pieces are kept of designs that no other beats; pick one of those.");
    if (!one) {
      const near = nearestKept(data, goals, k), why = make("p", { class: "hint" }, panel);
      why.append(Object.keys(shown.designs).length + " of the " + data.front.length + " designs of the front are kept in full, and this (hollow in the picture) is not among them. ");
      make("button", { type: "button" }, why, "Open the nearest that is: design " + near).addEventListener("click", () => pick(near));
      return why;
    }
    const day = make("div", { class: "block" }, panel);
    make("h4", {}, day, "Its day: " + shown.day);
    dayPicture(day, shown, one, shown.designs[data.chosen], name);
    legend(day, k !== data.chosen);
    const rest = make("div", { class: "block" }, panel);
    make("h4", {}, rest, "What it costs, keeps and is cut of");
    tabled(rest, "Bill by part", shown.heads.bill, one.bill);
    tabled(rest, "Safety limits over all days", ["limit", "margin"], one.limits).querySelectorAll("td").forEach((cell) => { if (/ over$/.test(cell.textContent)) cell.className = "over"; });
    tabled(rest, "Pieces, edges butted", shown.heads.pieces, one.pieces);
    make("p", { class: "hint" }, panel, "With everything else as in the config. The day is the one whose sun is in the middle of all days.");
  };
}
