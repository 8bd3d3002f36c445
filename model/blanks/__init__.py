"""What is cut from sheet and board to build an oven: flat outlines with their folds and bevels."""

from .blank import Blank
from .cut import blanks_of
from .fold import allowance, flange_fold, fold_angles, turn
from .workshop import Workshop

__all__ = [
    "Blank",
    "Workshop",
    "allowance",
    "blanks_of",
    "flange_fold",
    "fold_angles",
    "turn",
]
