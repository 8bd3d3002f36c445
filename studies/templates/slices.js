// One factor of the chosen design moved, all else as chosen.
function slices(host, data) {
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
}
