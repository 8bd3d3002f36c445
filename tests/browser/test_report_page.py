"""The report page driven in a real headless Chromium: no error, no request, picks, keyboard, filter, size and speed.

Left out where there is no Chromium: `apt-get install chromium` and `pip install '.[browser]'`.
"""

import re
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import xarray as xr

from noonhearth.model import CAUTIONS
from noonhearth.studies import Setting, drawn, load, search
from noonhearth.studies.telling.pages.page import page

playwright = pytest.importorskip("playwright.sync_api", reason="needs pip install '.[browser]'")
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="needs Chromium")

OVEN = Path(__file__).parents[1] / "oven.toml"
VARY = {
    "facets": [6, 10],
    "facet_angle": ["22 deg", "36 deg"],
    "mirror": ["anodised-sheet", "enhanced-sheet"],
    "insulation_thickness": ["20 mm", "80 mm"],
}
NASTY = "<script>window.broken = 1</script> & \"beans\" </script><img src=x onerror='window.broken = 2'>"


@pytest.fixture(scope="module")
def setting() -> Setting:
    return load(OVEN).setting


@pytest.fixture(scope="module")
def found(setting: Setting) -> xr.Dataset:
    return search(setting, vary=VARY, goals=["time_to_done", "mass"], trials=24, population=8)


def written(results: list[xr.Dataset], path: Path, title: str = "A test") -> Path:
    parts = [(result, list(drawn(result))) for result in results]
    path.write_text(page(title, parts, cautions=CAUTIONS, command="noonhearth run mine.toml"), "utf-8")
    return path


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    with playwright.sync_playwright() as started:
        chromium = started.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield chromium
        chromium.close()


class Opened:
    """A page with what it asked for and complained of."""

    def __init__(self, browser: Any, path: Path, **how: Any) -> None:
        self.page = browser.new_page(**how)
        self.requests: list[str] = []
        self.complaints: list[str] = []
        self.page.on("request", lambda request: self.requests.append(request.url))
        self.page.on("console", lambda told: self.complaints.append(told.text))
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))
        self.page.goto(path.as_uri())


@pytest.fixture
def opened(browser: Any, found: xr.Dataset, tmp_path: Path) -> Iterator[Opened]:
    one = Opened(browser, written([found], tmp_path / "report.html"))
    yield one
    one.page.close()


def test_it_opens_from_disk_without_error_or_request(opened: Opened) -> None:
    assert opened.complaints == []
    assert [url for url in opened.requests if not url.startswith(("file:", "data:"))] == []
    assert opened.page.locator("h1").inner_text() == "A test"
    assert opened.page.locator("#cautions li").count() >= len(CAUTIONS)
    assert opened.page.locator("main > section").first.get_attribute("id") == "question"


def test_the_chosen_design_is_shown_in_full(opened: Opened, found: xr.Dataset) -> None:
    told = opened.page.locator(".picked").inner_text()
    chosen = int(found.attrs["chosen_trial"])
    assert f"Design {chosen}: the chosen one" in told
    assert str(found["mirror"].to_numpy()[chosen]) in told


def test_a_click_and_the_arrow_keys_pick_designs(opened: Opened, found: xr.Dataset) -> None:
    page_ = opened.page
    other = int(np.flatnonzero(found["on_front"].to_numpy() != 1)[0])
    page_.locator(f"circle[data-row='{other}']").dispatch_event("click")
    assert f"Design {other}: others beat it" in page_.locator(".picked").inner_text()
    page_.locator(".explorer svg").first.focus()
    seen = set()
    for _ in range(int(found["on_front"].sum())):
        page_.keyboard.press("ArrowRight")
        seen.add(page_.locator(".picked strong").inner_text().split(":")[0])
    assert len(seen) == int(found["on_front"].sum())
    page_.keyboard.press("Home")
    assert "the chosen one" in page_.locator(".picked strong").inner_text()
    assert opened.complaints == []


def test_a_design_of_the_front_opens_with_its_day_bill_limits_and_pieces(
    opened: Opened, found: xr.Dataset
) -> None:
    """By name, from the list: every design of the front, each with its own numbers."""
    page_ = opened.page
    select = page_.locator(".front select")
    chosen = int(found.attrs["chosen_trial"])
    for trial in found["shown"].to_numpy().tolist():
        select.select_option(str(trial))
        one = found.sel(shown=trial)
        told = page_.locator(".opened").inner_text()
        assert f"{float(one['shown_mass']):.3g} kg" in told
        facets = int(found["facets"][trial])
        row = page_.locator(".opened tr", has_text="facet, tier 1").inner_text().split("\t")
        assert int(row[1]) == facets
        over = one["shown_touch_over"].item()
        assert f"{abs(over):.3g} K {'over' if over > 0 else 'to spare'}" in told
        picture = page_.locator("svg.day")
        assert picture.get_attribute("role") == "img"
        minutes = 9.5 * 60 + float(one["shown_done_after"]) / 60
        assert f"done at {int(minutes // 60):02d}:{int(minutes % 60):02d}"[:-1] in picture.get_attribute(
            "aria-label"
        )
        hottest = float(one["shown_cover_temperature"].max()) - 273.15
        said = re.search(r"cover at most ([\d.]+) degC", picture.get_attribute("aria-label"))
        assert said is not None
        assert float(said[1]) == pytest.approx(hottest, abs=0.5)  # of one minute in a few
        assert picture.locator("path.before").count() == int(
            trial != chosen
        )  # the chosen one's food beside it
    assert opened.complaints == []


def test_the_curve_drawn_is_the_curve_kept(opened: Opened, found: xr.Dataset) -> None:
    """Its height at the start and the end, read off the picture by the axis of the picture itself."""
    page_ = opened.page
    page_.keyboard.press("Home")
    marks = page_.locator("svg.day text[x='45']").evaluate_all(
        "all => all.map(t => [Number(t.textContent), t.y.baseVal[0].value - 3.5])"
    )
    heat = [(value, y) for value, y in marks if y < 200]
    (low, low_y), (high, high_y) = heat[0], heat[-1]
    path = page_.locator("svg.day path.food").first.get_attribute("d")
    heights = [float(point.split(" ")[1]) for point in re.split("[ML]", path)[1:]]
    read = [low + (y - low_y) / (high_y - low_y) * (high - low) for y in (heights[0], heights[-1])]
    every = -(-found.sizes["time"] // 240)
    kept = found["shown_food_temperature"].sel(shown=found.attrs["chosen_trial"])[::every].to_numpy() - 273.15
    assert read == pytest.approx([kept[0], kept[-1]], abs=0.1)


def test_a_design_that_others_beat_says_that_its_day_is_not_kept(opened: Opened, found: xr.Dataset) -> None:
    other = int(np.flatnonzero(found["on_front"].to_numpy() != 1)[0])
    opened.page.locator(f"circle[data-row='{other}']").dispatch_event("click")
    assert "pick one of those" in opened.page.locator(".opened").inner_text()
    assert opened.page.locator("svg.day").count() == 0


def test_a_design_of_a_long_front_leads_to_the_nearest_that_is_kept(
    browser: Any, found: xr.Dataset, tmp_path: Path
) -> None:
    """Nearest in the goals over their range, worked out here; its button is reached and pressed by keyboard."""
    trials = found["shown"].to_numpy()
    assert len(trials) > 3
    few = found.isel(shown=[0, len(trials) - 1])
    one = Opened(browser, written([few], tmp_path / "few.html"))
    goals = np.column_stack([found[name].to_numpy()[trials] for name in ("time_to_done", "mass")])
    scaled = (goals - goals.min(axis=0)) / np.ptp(goals, axis=0)
    left = 1
    ends = [0, len(trials) - 1]
    nearest = trials[min(ends, key=lambda k: np.linalg.norm(scaled[left] - scaled[k]))]
    one.page.locator(".front select").select_option(str(trials[left]))
    assert "not among them" in one.page.locator(".opened").inner_text()
    assert one.page.locator("circle.bare").count() == len(trials) - 2
    one.page.locator(".opened button").focus()
    one.page.keyboard.press("Enter")
    assert one.page.locator(".picked strong").inner_text().startswith(f"Design {nearest}:")
    assert one.page.locator("svg.day").count() == 1
    assert one.complaints == []


def test_a_finger_near_a_point_picks_it(opened: Opened) -> None:
    """Beside the loneliest point, outside it, and nearer to it than to any other; far from all nothing is picked."""
    page_ = opened.page
    page_.locator(".explorer svg").first.scroll_into_view_if_needed()
    dots = page_.locator("circle").evaluate_all(
        "all => all.map(c => { const b = c.getBoundingClientRect();"
        " return [Number(c.dataset.row), b.x + b.width / 2, b.y + b.height / 2]; })"
    )
    row, place = np.array([dot[0] for dot in dots]), np.array([dot[1:] for dot in dots])
    apart = np.linalg.norm(place[:, None] - place, axis=2) + 1e9 * np.eye(len(dots))
    lonely = int(apart.min(axis=1).argmax())
    assert apart[lonely].min() > 25
    page_.mouse.click(place[lonely][0] + 9, place[lonely][1])
    assert page_.locator(".picked strong").inner_text().startswith(f"Design {row[lonely]}:")
    box = page_.locator(".explorer svg").first.bounding_box()
    grid = np.stack(np.meshgrid(np.linspace(0.2, 0.9, 40), np.linspace(0.1, 0.7, 40)), -1).reshape(-1, 2)
    spots = grid * [box["width"], box["height"]] + [box["x"], box["y"]]
    empty = spots[np.linalg.norm(spots[:, None] - place, axis=2).min(axis=1).argmax()]
    assert np.linalg.norm(empty - place, axis=1).min() > 30
    page_.mouse.click(*empty)
    assert page_.locator(".picked strong").inner_text().startswith(f"Design {row[lonely]}:")


def test_results_of_two_runs_each_open_their_own(browser: Any, found: xr.Dataset, tmp_path: Path) -> None:
    other = found.copy(deep=True)
    other["shown_mass"][:] = 77.7
    one = Opened(browser, written([found, other], tmp_path / "two.html"))
    told = one.page.locator(".opened").all_inner_texts()
    assert len(told) == 2
    assert "77.7 kg" not in told[0]
    assert "77.7 kg" in told[1]
    assert one.complaints == []


def test_the_table_sorts_and_filters(opened: Opened, found: xr.Dataset) -> None:
    page_ = opened.page
    table = page_.get_by_role("region", name="All designs").locator("table")
    heads = table.locator("th").all_inner_texts()
    mass = next(k for k, head in enumerate(heads) if head.startswith("mass"))
    table.locator("th").nth(mass).locator("button").click()
    column = [float(row.split("\t")[mass]) for row in table.locator("tbody tr").all_inner_texts()]
    assert column == sorted(column)
    assert len(column) == found.sizes["trial"]
    assert table.locator("th").nth(mass).get_attribute("aria-sort") == "ascending"
    page_.locator(".explorer input[type=search]").fill("enhanced-sheet")
    rows = table.locator("tbody tr").all_inner_texts()
    assert len(rows) == int((found["mirror"] == "enhanced-sheet").sum())
    button = table.locator("tbody tr button").first
    button.focus()
    page_.keyboard.press("Enter")
    assert table.locator("tbody tr").first.get_attribute("aria-current") == "true"
    assert "enhanced-sheet" in page_.locator(".picked").inner_text()


def test_a_factor_moves_along_its_slice(opened: Opened, found: xr.Dataset) -> None:
    slider = opened.page.locator(".slice input").first
    slider.focus()
    opened.page.keyboard.press("Home")
    told = opened.page.locator(".slice output").first.inner_text()
    first = str(found["slice_factor"].to_numpy()[0])
    assert first == "facets"
    assert told.startswith("6:")
    minutes = float(found["slice_time_to_done"][0, 0]) / 60
    assert f"{minutes:.4g}" in told.replace("min", "")
    assert slider.get_attribute("aria-valuetext") == "6"


def test_words_of_a_config_stay_words(browser: Any, found: xr.Dataset, tmp_path: Path) -> None:
    named = found.assign_attrs(place=NASTY, study_name="search", food=NASTY)
    one = Opened(browser, written([named], tmp_path / "nasty.html", title=NASTY))
    assert one.page.evaluate("window.broken") is None
    assert one.page.locator("h1").inner_text() == NASTY
    assert one.complaints == []


def test_light_dark_small_and_printed(browser: Any, found: xr.Dataset, tmp_path: Path) -> None:
    path = written([found], tmp_path / "report.html")
    grounds = []
    for scheme in ("light", "dark"):
        one = Opened(browser, path, color_scheme=scheme, viewport={"width": 360, "height": 700})
        grounds.append(one.page.evaluate("getComputedStyle(document.body).backgroundColor"))
        assert one.page.evaluate("document.documentElement.scrollWidth") <= 360  # nothing runs off a phone
        one.page.emulate_media(media="print")
        assert not one.page.locator(".explorer").is_visible()
        assert one.page.locator("#cautions").is_visible()
        one.page.close()
    assert grounds[0] != grounds[1]


def test_everything_has_a_name(opened: Opened) -> None:
    """Every picture says what it shows, every control what it is, and headings do not skip a level."""
    page_ = opened.page
    assert all(page_.locator("img").evaluate_all("all => all.map(one => one.alt.length > 10)"))
    unnamed = (
        "all => all.filter(one => !(one.labels && one.labels.length)"
        " && !one.ariaLabel && !one.textContent).length"
    )
    assert page_.locator("input, select, button").evaluate_all(unnamed) == 0
    levels = page_.locator("h1, h2, h3, h4").evaluate_all("all => all.map(one => Number(one.tagName[1]))")
    assert levels[0] == 1
    assert max(np.diff(levels)) <= 1


def test_two_thousand_designs_are_small_and_quick(browser: Any, found: xr.Dataset, tmp_path: Path) -> None:
    copies = [found] * -(-2000 // found.sizes["trial"])
    many = xr.concat(copies, "trial", data_vars="minimal", coords="minimal", compat="override")
    many = many.isel(trial=slice(0, 2000)).assign_coords(trial=np.arange(2000))
    front = np.flatnonzero(many["on_front"].to_numpy() == 1)[:60]
    many = many.isel(shown=np.resize(np.arange(found.sizes["shown"]), 60))
    many = many.assign_coords(shown=("shown", front, found["shown"].attrs))
    path = tmp_path / "many.html"
    parts = [(many, list(drawn(many)))]
    path.write_text(page("Many", parts, cautions=CAUTIONS, command="x"), "utf-8")
    assert path.stat().st_size < 3_000_000
    one = Opened(browser, path)
    assert one.complaints == []
    assert "2000 of 2000 designs" in one.page.locator(".explorer").inner_text()
    quick = one.page.evaluate(ANSWERS)
    assert quick["picked"] < 100  # ms; the quickest of some, as the machine may be busy
    assert quick["filtered"] < 100
    assert quick["sorted"] < 100


# How long a pick, a filter and a sort take until the page has been laid out again.
ANSWERS = """() => {
  const least = (work) => Math.min(...Array.from({ length: 5 }, (_, k) => {
    const start = performance.now();
    work(k);
    document.body.getBoundingClientRect();
    return performance.now() - start;
  }));
  const svg = document.querySelector(".explorer svg"), filter = document.querySelector("input[type=search]");
  const key = (name) => svg.dispatchEvent(new KeyboardEvent("keydown", { key: name, bubbles: true }));
  return {
    picked: least(() => key("ArrowRight")),
    filtered: least((k) => { filter.value = k % 2 ? "" : "enhanced"; filter.dispatchEvent(new Event("input")); }),
    sorted: least(() => document.querySelector("th button").click()),
  };
}"""
