// Look through the designs of a search: what is picked in one place shows in all.
function explorer(host) {
  const data = JSON.parse(document.getElementById(host.dataset.of).textContent);
  const goals = data.columns.map((c, k) => k).filter((k) => data.columns[k].role === "goal");
  const told = [];
  const pick = (k) => told.forEach((tell) => tell(k));
  const named = byName(host, data, goals, pick);
  const plot = scatter(host, data, goals, pick);
  told.push(plot.mark, numbers(data, goals, plot.beside), named, opened(host, data, goals, pick));
  slices(host, data);
  told.push(allDesigns(host, data, pick));
  pick(data.chosen);
}

document.querySelectorAll(".explorer").forEach(explorer);
