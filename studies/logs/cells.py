"""One cell of a log: a number, a logger's word for no reading, or neither."""

import math
import re

MISSING_WORDS = frozenset(
    {
        *("", "-", "--", "---", "----", "?", "*", "**", "***", "****", "."),
        *("nan", "na", "n/a", "#n/a", "null", "none", "nil", "missing", "no data", "nodata", "open"),
        *(
            "ol",
            "o.l",
            "o.l.",
            "0l",
            "over",
            "overflow",
            "ovfl",
            "err",
            "error",
            "fail",
            "fault",
            "inf",
            "-inf",
        ),
    }
)
"""Words by which loggers and people write that there is no reading (common practice, no source)."""

MISSING_NUMBERS = frozenset({-99.9, -99.99, -127.0, -888.8, -999.0, -999.9, -999.99, -6999.0, -7999.0})
"""Numbers that mean no reading; each is also beyond what a cook can meet (common practice, no source)."""

_BEYOND = 9998.0  # 9999, 99999, 32767, 1e30: no series of a cook gets there, whatever its unit
_NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,3})?")
_MINUS = str.maketrans({"−": "-", "–": "-", "\u00a0": " "})


def reading(
    cell: str, *, decimal: str = ".", unit: str = "", missing: frozenset[str] = frozenset()
) -> float | str:
    """The number in a cell, or the reason why there is none: "missing" or "unreadable".

    Parameters
    ----------
    cell : str
    decimal : "." or ","
    unit : str
        May stand behind the number.
    missing : set of str
        Further texts that mean no reading.

    Examples
    --------
    >>> reading("21,5", decimal=","), reading("98.2 degC", unit="degC"), reading("OL"), reading("-999"), reading("abc")
    (21.5, 98.2, 'missing', 'missing', 'unreadable')
    """
    text = cell.translate(_MINUS).strip()
    if text in missing or text.casefold() in MISSING_WORDS:
        return "missing"
    for spelled in (unit, "°" + unit.removeprefix("deg"), unit.removeprefix("deg")):
        if spelled and text.endswith(spelled):
            text = text.removesuffix(spelled).rstrip()
            break
    if decimal == ",":
        text = "unreadable" if "." in text else text.replace(",", ".", 1)
    if not _NUMBER.fullmatch(text):
        return "unreadable"
    number = float(text)
    if not math.isfinite(number) or abs(number) > _BEYOND or number in MISSING_NUMBERS:
        return "missing"
    return number
