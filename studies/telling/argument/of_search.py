"""What an argument says of a search beyond the search's own sentences: what was asked, the front, and what the chosen
design costs, keeps and is cut of.
"""

import json
from collections.abc import Iterator, Sequence

import numpy as np
import xarray as xr

from ...methods.front import goals
from ..drawings.drawing import column
from ..words.budget_words import NOT_COUNTED, money
from ..words.phrases import listed, said, spoken
from .sections import Said, Table

_OFF = {"minimize": "the least", "maximize": "the most"}


def asked(search: xr.Dataset) -> list[Said]:
    """The question that a search was to answer, and what was free to vary."""
    attrs = search.attrs
    wanted = listed(
        [f"{_OFF[str(search[name].attrs['direction'])]} {spoken(name)}" for name in goals(search)]
    )
    meal = (
        f"{said(attrs['food_mass'], 'mass', attrs)} of {spoken(attrs['food'])} put in at {attrs['loaded_at']}"
    )
    kept = _limits_asked(search)
    within = f", and stays within its limits ({listed(kept)})" if kept else ""
    factors = [str(name) for name, array in search.coords.items() if array.attrs.get("role") == "factor"]
    ranges = "; ".join(f"{spoken(name)} {_range(search, name)}" for name in factors)
    return [
        Said("asked", f"Which oven has {wanted} with {meal} at {attrs['place']}{within}?", "question"),
        Said("tried", f"Tried, all else as in the config: {ranges}.", "question"),
    ]


def _limits_asked(search: xr.Dataset) -> list[str]:
    names = [str(name) for name, array in search.data_vars.items() if array.attrs.get("role") == "limit"]
    return [
        spoken(name.removeprefix("margin_").removesuffix("_over")) for name in names if name.endswith("_over")
    ]


def _range(search: xr.Dataset, name: str) -> str:
    """The ends between which a factor was tried, or the words that were."""
    column = search[name].to_numpy()
    if column.dtype.kind in "UO":
        return listed(sorted({str(word) for word in column}))
    dimension = str(search[name].attrs["dimension"])
    low, high = (said(float(x), dimension, search.attrs, digits=3) for x in (column.min(), column.max()))
    return low if low == high else f"{low} to {high}"


def front_said(search: xr.Dataset) -> list[Said]:
    """What the designs that no other beats have to offer, goal by goal."""
    members = np.flatnonzero(search["on_front"].to_numpy() == 1)
    if len(members) < 2:
        return []
    spans = []
    for name in goals(search):
        values, unit = column(search[name], search.attrs)
        ends = f"{values[members].min():.3g} to {values[members].max():.3g} {unit}".strip()
        spans.append(f"{spoken(name)} from {ends}")
    text = (
        f"{len(members)} of {search.sizes['trial']} designs tried stand on the front: nothing tried is better than one "
        f"of them in a goal without being worse in another. Along it run {listed(spans)}."
    )
    return [Said("front", text, "reasons"), Said("rule", _rule(search), "reasons")]


def _rule(search: xr.Dataset) -> str:
    """Why this one of the front, by the rule of the config."""
    pick = str(search.attrs["pick"])
    if pick == "knee":
        return (
            "The one recommended is the knee of the front: past it, giving up some of one goal buys little of the "
            "others, all taken over their range on the front."
        )
    if pick.startswith("{"):
        weights = [f"{spoken(name)} {weight:g}" for name, weight in json.loads(pick).items()]
        return f"The one recommended is the best of them with the goals weighed as the config says: {listed(weights)}."
    return f"The one recommended has the best {spoken(pick)} of them, as the config asks."


def chosen_shown(search: xr.Dataset) -> xr.Dataset | None:
    """What is kept of the chosen design by itself; None in results from before it was kept."""
    if "shown" not in search.dims or "chosen_trial" not in search.attrs:
        return None
    row = np.flatnonzero(search["shown"].to_numpy() == search.attrs["chosen_trial"])
    return search.isel(shown=int(row[0])) if row.size else None


def cost_said(search: xr.Dataset) -> list[Said]:
    """What the material of the chosen design costs and weighs, and where the money goes."""
    one, attrs = chosen_shown(search), search.attrs
    if one is None:
        return []
    weight = said(float(one["shown_mass"]), "mass", attrs, digits=3)
    whole, cost = float(one["shown_material_cost"]), one["shown_part_cost"].to_numpy()
    parts = [spoken(part) for part in one["part"].to_numpy()]
    if np.isfinite(whole):
        most = int(np.nanargmax(cost))
        dearest = f"{parts[most]} ({one['shown_part_material'].to_numpy()[most]})"
        text = (
            f"Its material costs {money(search, whole)} and weighs {weight}; the dearest part is "
            f"the {dearest}, {100 * cost[most] / whole:.0f} % of it. {NOT_COUNTED}"
        )
        return [Said("cost", text, "cost")]
    bare = [
        f"{one['shown_part_material'].to_numpy()[k]} ({parts[k]})"
        for k in range(len(parts))
        if np.isnan(cost[k])
    ]
    text = f"It weighs {weight}; what it costs is not known, as there is no price of {listed(bare)}. {NOT_COUNTED}"
    return [Said("cost", text, "cost")]


def bill_table(search: xr.Dataset) -> Table | None:
    """The bill of the chosen design by part."""
    one = chosen_shown(search)
    if one is None:
        return None
    return Table("The bill of the recommended design, by part.", BILL_HEADS, bill_rows(one))


BILL_HEADS = ("part", "material", "mass", "area", "cost")


def bill_rows(one: xr.Dataset) -> list[Sequence[str]]:
    """Of one design shown: its parts in words, and all together."""
    attrs, parts = one.attrs, one["part"].to_numpy()
    rows: list[Sequence[str]] = [
        (
            spoken(part),
            str(one["shown_part_material"].to_numpy()[k]),
            said(float(one["shown_part_mass"][k]), "mass", attrs, digits=3),
            _area(float(one["shown_part_area"][k]), one),
            _price(one, float(one["shown_part_cost"][k])),
        )
        for k, part in enumerate(parts)
    ]
    whole = said(float(one["shown_mass"]), "mass", attrs, digits=3)
    return [*rows, ("all", "", whole, "", _price(one, float(one["shown_material_cost"])))]


def _area(value: float, one: xr.Dataset) -> str:
    return said(value, "area", one.attrs, digits=3) if np.isfinite(value) and value > 0 else ""


def _price(one: xr.Dataset, value: float) -> str:
    return money(one, value) if np.isfinite(value) else "no price"


def limit_table(search: xr.Dataset) -> Table | None:
    """Every safety limit beside the recommended design: how far below it, or over it."""
    one = chosen_shown(search)
    if one is None:
        return None
    rows = [(name, room, "OVER" if over else "kept") for name, room, over in limit_rows(one)]
    return Table("Safety limits of the recommended design, over all days.", ("limit", "margin", ""), rows)


def limit_rows(one: xr.Dataset) -> Iterator[tuple[str, str, bool]]:
    """Of one design shown: each limit, by how much it is kept or exceeded, and whether it is exceeded."""
    for name, array in one.data_vars.items():
        if str(name).startswith("shown_") and str(name).endswith("_over"):
            value = float(array)
            text = said(abs(value), str(array.attrs["dimension"]), one.attrs, digits=3)
            way = "over" if value > 0 else "to spare"
            yield (
                str(array.attrs["long_name"]),
                f"{text} {way}" if np.isfinite(value) else "not known",
                value > 0,
            )


def piece_table(search: xr.Dataset) -> Table | None:
    """The pieces of the chosen design and how large they are."""
    one = chosen_shown(search)
    if one is None:
        return None
    caption = (
        "Pieces of the recommended design, edges butted, by the size of the sheet each needs; `noonhearth parts` draws "
        "them at full size as your workshop joins them."
    )
    return Table(caption, PIECE_HEADS, piece_rows(one))


PIECE_HEADS = ("piece", "how many", "material", "width x height", "thickness")


def piece_rows(one: xr.Dataset) -> list[Sequence[str]]:
    """Of one design shown: its pieces in words."""
    rows: list[Sequence[str]] = []
    for k, piece in enumerate(one["piece"].to_numpy()):
        count = int(one["shown_piece_count"][k])
        if count:
            size = [
                said(float(one[f"shown_piece_{side}"][k]), "length", one.attrs, digits=4)
                for side in ("width", "height", "thickness")
            ]
            material = str(one["shown_piece_material"].to_numpy()[k])
            rows.append((str(piece), str(count), material, f"{size[0]} x {size[1]}", size[2]))
    return rows
