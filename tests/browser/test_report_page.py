"""The report page driven in a real headless Chromium: no error, no request, picks, keyboard, filter, size and speed.

Left out where there is no Chromium: `apt-get install chromium` and `pip install '.[browser]'`.
"""

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import xarray as xr

from noonhearth.model import CAUTIONS
from noonhearth.studies import Setting, drawn, load, search
from noonhearth.studies.telling.page import page

playwright = pytest.importorskip("playwright.sync_api", reason="needs pip install '.[browser]'")
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="needs Chromium")

OVEN = Path(__file__).parents[1] / "oven.toml"
VARY = {
    "facets": [6, 10],
    "facet_angle": ["22 deg", "36 deg"],
    "mirror": ["anodised-sheet", "enhanced-sheet"],
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
    assert opened.page.locator("#cautions li").count() == len(CAUTIONS)


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
    page_.locator(".explorer svg").focus()
    seen = set()
    for _ in range(int(found["on_front"].sum())):
        page_.keyboard.press("ArrowRight")
        seen.add(page_.locator(".picked strong").inner_text().split(":")[0])
    assert len(seen) == int(found["on_front"].sum())
    assert opened.complaints == []


def test_the_table_sorts_and_filters(opened: Opened, found: xr.Dataset) -> None:
    page_ = opened.page
    table = page_.locator(".explorer table")
    heads = table.locator("th").all_inner_texts()
    mass = next(k for k, head in enumerate(heads) if head.startswith("mass"))
    table.locator("th button").nth(mass).click()
    column = [float(row.split("\t")[mass]) for row in table.locator("tbody tr").all_inner_texts()]
    assert column == sorted(column)
    assert len(column) == found.sizes["trial"]
    assert table.locator("th").nth(mass).get_attribute("aria-sort") == "ascending"
    page_.locator(".explorer input[type=search]").fill("enhanced-sheet")
    rows = table.locator("tbody tr").all_inner_texts()
    assert len(rows) == int((found["mirror"] == "enhanced-sheet").sum())
    table.locator("tbody tr").first.click()
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
    levels = page_.locator("h1, h2, h3").evaluate_all("all => all.map(one => Number(one.tagName[1]))")
    assert levels[0] == 1
    assert max(np.diff(levels)) <= 1


def test_two_thousand_designs_are_small_and_quick(browser: Any, found: xr.Dataset, tmp_path: Path) -> None:
    copies = [found] * -(-2000 // found.sizes["trial"])
    many = xr.concat(copies, "trial", data_vars="minimal", coords="minimal", compat="override")
    many = many.isel(trial=slice(0, 2000)).assign_coords(trial=np.arange(2000))
    path = tmp_path / "many.html"
    parts = [(many, [])]
    path.write_text(page("Many", parts, cautions=CAUTIONS, command="x"), "utf-8")
    assert path.stat().st_size < 3_000_000
    one = Opened(browser, path)
    assert one.complaints == []
    assert "2000 of 2000 designs" in one.page.locator(".explorer").inner_text()
