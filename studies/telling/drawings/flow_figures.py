"""Where the light of the shown day goes, and where its heat goes: ribbons as wide as the energy."""

import math
from collections.abc import Callable, Iterator

import numpy as np
import pandas as pd
import xarray as xr
from matplotlib.figure import Figure

from ...asking.quantity import parse_clock
from .drawing import BLUE, GREEN, GREY, ORANGE, PURPLE, RED, SKY, YELLOW, Drawn, clock_text, shown
from .oven_drawing import BOXED
from .ribbons import Ribbon, draw_ribbons

MOUTH, BEAM, DOME = "at the mouth", "sun's beam", "sky and ground"
SENT_BACK, LOST = "cover sends back", "out again or beside"
LIGHT_ENDS = {
    "lid": "pot: lid",
    "side": "pot: side",
    "bottom": "pot: bottom",
    "walls": "mirror walls",
    "plate": "back plate",
    "cover": "cover takes in",
    "lost": LOST,
}
_LIGHT_COLOURS = {BEAM: YELLOW, DOME: SKY, "pot: lid": RED, "pot: side": RED, "pot: bottom": RED}
_LIGHT_COLOURS |= {
    "mirror walls": ORANGE,
    "back plate": ORANGE,
    "cover takes in": SKY,
    SENT_BACK: GREY,
    LOST: GREY,
}

POT, FOOD, INSIDE, COVER, SKIN = "pot", "food", "air and inner walls", "cover", "insulation and skin"
OUTSIDE, GIVEN = "from outside", "from what was stored"
WAYS_OUT = {  # of the energy book: from where, and to what
    "steam": (FOOD, "steam"),
    "leak": (INSIDE, "leak of warm air"),
    "cover_convection": (COVER, "cover to the wind"),
    "cover_radiation": (COVER, "cover to the sky"),
    "shell_convection": (SKIN, "skin to the wind"),
    "shell_radiation": (SKIN, "skin to the sky"),
}
KEPT = {  # nodes of the heat balance that a station stands for
    FOOD: ("outer", "middle", "core"),
    POT: ("pot",),
    INSIDE: ("air", "sheet"),
    COVER: ("cover_inner", "cover_outer"),
    SKIN: ("insulation", "shell"),
}
LIGHT_INTO = {POT: "light into pot", INSIDE: "light into inner walls", COVER: "light into cover"}
TAKEN = {"pot_absorbed": POT, "sheet_absorbed": INSIDE, "cover_absorbed": COVER}
_HEAT_ORDER = (
    *("steam", "kept in food", FOOD, LIGHT_INTO[POT], POT, "kept in pot"),
    *(LIGHT_INTO[INSIDE], INSIDE, f"kept in {INSIDE}", "leak of warm air", LIGHT_INTO[COVER], COVER),
    *("cover to the wind", "cover to the sky", "kept in cover", SKIN),
    *("skin to the wind", "skin to the sky", f"kept in {SKIN}", OUTSIDE, GIVEN),
)
_HEAT_COLOURS = {
    FOOD: PURPLE,
    "steam": PURPLE,
    "kept in food": PURPLE,
    POT: RED,
    "kept in pot": RED,
    INSIDE: ORANGE,
}
_HEAT_COLOURS |= {"leak of warm air": GREY, f"kept in {INSIDE}": ORANGE, COVER: SKY, SKIN: GREEN}
_HEAT_COLOURS |= {"cover to the wind": SKY, "cover to the sky": BLUE, "kept in cover": SKY}
_HEAT_COLOURS |= {"skin to the wind": GREEN, "skin to the sky": GREEN, f"kept in {SKIN}": GREEN}


def light_flows(day: xr.Dataset) -> Drawn | None:
    """Light from the mouth to where it ends, over the shown day and its sunniest hour."""
    if "light_ending" not in day:
        return None
    order = [BEAM, DOME, MOUTH, *light_ends(day).values(), SENT_BACK]
    caption = (
        "Light that reaches the plane of the mouth, by where it ends; ribbons are as wide as the energy. What the "
        "cover sends back is of the beam, before it enters; fog on the cover counts as beside."
    )
    return _flows(day, "light-flows", light_ribbons, order, _LIGHT_COLOURS, caption)


def heat_flows(day: xr.Dataset) -> Drawn | None:
    """Heat from what the light leaves behind to where it goes and stays, over the shown day and its sunniest hour."""
    if "heat_flow" not in day:
        return None
    caption = (
        "Heat from light to pot, food and oven and out; ribbons are as wide as the energy, and what comes in is what "
        "goes out and what stays. Kept: what is warmer at the end than at the start. From outside: what warm air "
        "brings to a skin that the sky cools."
    )
    return _flows(day, "heat-flows", heat_ribbons, _HEAT_ORDER, _HEAT_COLOURS, caption)


def light_ends(day: xr.Dataset) -> dict[str, str]:
    """What the surfaces are called on which light ends; of an oven with a box, its walls and floor."""
    boxed = str(day["archetype"].to_numpy().ravel()[0]) == BOXED
    return LIGHT_ENDS | ({"walls": "mirror and box walls", "plate": "floor of the box"} if boxed else {})


def light_ribbons(one: xr.Dataset) -> list[Ribbon]:
    """The flows of light of one span. [J]"""
    arriving, ending = one["light_arriving"], one["light_ending"].sum("source")
    sent_back = float(np.nan_to_num(one["light_sent_back"]))
    ribbons = [
        Ribbon(BEAM, MOUTH, float(arriving.sel(source="beam"))),
        Ribbon(DOME, MOUTH, float(arriving.sel(source=["sky", "ground"]).sum())),
    ]
    amounts = {name: float(ending.sel(surface=name)) for name in LIGHT_ENDS}
    amounts["lost"] -= sent_back
    for part in _PARTS:
        _none_below(amounts, part)
    ribbons += [Ribbon(MOUTH, text, amounts[name]) for name, text in light_ends(one).items()]
    return [*ribbons, Ribbon(MOUTH, SENT_BACK, sent_back)]


_PARTS = (("lid", "side", "bottom"), ("walls", "plate"))


def _none_below(amounts: dict[str, float], part: tuple[str, ...]) -> None:
    """Where the curve of a surface that sees next to nothing of the sky dips below nothing, the largest makes it up."""
    largest = max(part, key=lambda name: amounts[name])
    for name in part:
        if amounts[name] < 0:
            amounts[largest] += amounts[name]
            amounts[name] = 0.0


def heat_ribbons(one: xr.Dataset) -> list[Ribbon]:
    """The flows of heat of one span; what runs against the usual way is turned round. [J]

    What goes from pot to food, from pot to oven and from there to cover and skin follows from the book: each
    station passes on what it does not keep.
    """
    flow, kept = one["heat_flow"], one["heat_kept"]
    stays = {station: float(kept.sel(node=list(nodes)).sum()) for station, nodes in KEPT.items()}
    leaves = {name: float(flow.sel(flow=name)) for name in WAYS_OUT}
    light = {station: float(flow.sel(flow=name)) for name, station in TAKEN.items()}
    to_food = stays[FOOD] + leaves["steam"]
    to_cover = stays[COVER] + leaves["cover_convection"] + leaves["cover_radiation"] - light[COVER]
    to_skin = stays[SKIN] + leaves["shell_convection"] + leaves["shell_radiation"]
    return [
        *(Ribbon(LIGHT_INTO[station], station, amount) for station, amount in light.items()),
        _turned(POT, FOOD, to_food),
        _turned(POT, INSIDE, light[POT] - stays[POT] - to_food),
        _turned(INSIDE, COVER, to_cover),
        _turned(INSIDE, SKIN, to_skin),
        *(_out(*WAYS_OUT[name], amount, OUTSIDE) for name, amount in leaves.items()),
        *(_out(station, f"kept in {station}", amount, GIVEN) for station, amount in stays.items()),
    ]


def _turned(source: str, target: str, amount: float) -> Ribbon:
    """A flow, the other way round where it is below zero."""
    return Ribbon(source, target, amount) if amount >= 0 else Ribbon(target, source, -amount)


def _out(source: str, target: str, amount: float, instead: str) -> Ribbon:
    """What leaves a station, or comes to it where it is below zero."""
    return Ribbon(source, target, amount) if amount >= 0 else Ribbon(instead, source, -amount)


def _flows(
    day: xr.Dataset,
    name: str,
    ribbons_of: Callable[[xr.Dataset], list[Ribbon]],
    order: list[str] | tuple[str, ...],
    colours: dict[str, str],
    caption: str,
) -> Drawn:
    figure = Figure(figsize=(7.4, 8.2))
    tables = []
    for axes, (title, one) in zip(figure.subplots(2, 1), _spans(day), strict=True):
        ribbons = ribbons_of(one)
        comes = sum(ribbon.amount for ribbon in ribbons if ribbon.source not in {r.target for r in ribbons})
        (_, *amounts), unit = shown([comes, *(ribbon.amount for ribbon in ribbons)], "energy", day.attrs)
        scale = amounts[0] / ribbons[0].amount if ribbons[0].amount else 1.0
        draw_ribbons(axes, ribbons, order=order, colours=colours, text=_text(comes, scale, unit))
        axes.set_title(title, fontsize=9)
        tables.append(_table(one, ribbons, amounts, unit, comes))
    where = str(day["day_label"][int(day.attrs["shown_day"])].item())
    return Drawn(name, figure, pd.concat(tables), f"{where}. {caption}")


def _spans(day: xr.Dataset) -> Iterator[tuple[str, xr.Dataset]]:
    """Each span with what it is called."""
    loaded = parse_clock(str(day.attrs["loaded_at"]))
    for name in day["span"].to_numpy():
        one = day.sel(span=name)
        first, last = (clock_text((loaded + float(one[end])) / 3600) for end in ("span_from", "span_to"))
        yield f"{name}, {first} to {last}", one


def _text(total: float, scale: float, unit: str) -> Callable[[float], str]:
    """How an amount is printed: in the unit, and as a share of all that comes."""

    decimals = max(3 - math.floor(math.log10(max(total * scale, 1.0))), 0)

    def text(amount: float) -> str:
        return f"{amount * scale:.{decimals}f} {unit}, {100 * amount / total:.1f} %"

    return text


def _table(
    one: xr.Dataset, ribbons: list[Ribbon], amounts: list[float], unit: str, total: float
) -> pd.DataFrame:
    rows = [
        (str(one["span"].item()), ribbon.source, ribbon.target, amount, 100 * ribbon.amount / total)
        for ribbon, amount in zip(ribbons, amounts, strict=True)
    ]
    return pd.DataFrame(rows, columns=["span", "from", "to", f"energy [{unit}]", "of all that comes [%]"])
