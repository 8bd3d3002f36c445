"""A solar oven as numbers: what is built, what it stands under, and what becomes of the meal.

Describe with `Oven`, `ByHand`, `Meal` and a sky from `clear_sky`, `clearness_sky` or `file_sky`; run with
`simulate`; read the Dataset with `MERITS` and `LIMITS` beside it.
"""

from .aiming import Aim, Aiming, ByHand, Drive, Fixed, aim
from .aiming_loss import OffAxis, beam_into_pot, off_axis_light
from .aiming_report import INTERVALS, LOSSES, assess_aiming
from .air_outside import Air
from .bill import bill
from .blanks import Blank, Workshop, blanks_of, fold_angles
from .catalogue import Catalogue, load_catalogue
from .compiled import cache_folder, source_hash
from .cooks import PLANES, SENSORS, CookModel, CookRecord, Plane, RecordError
from .described import (
    SI,
    Catalogued,
    Choice,
    Count,
    DescriptionError,
    Quantity,
    Spec,
    nearest_name,
    specs,
    stored_unit,
    suggestion,
)
from .design import AsBuilt, Design, Surroundings, Table, table_of
from .drive_parts import Cell, DriveTrain, Motor, start_and_stop
from .drive_report import DriveReport, assess_drive
from .flows import flows_of_day
from .food import DANGER_HIGH, DANGER_LOW, Meal
from .hanging import ground_gap, pot_gap, trunnion_height
from .limits import CAUTIONS, Caution
from .merit import LIMITS, MERITS, Merit
from .oven import Box, Cover, Funnel, Jacket, Oven, Pot, Stand
from .prepare import prepare
from .prices import Price
from .procedures import (
    CookingPower,
    Heating,
    Log,
    ProcedureError,
    Stagnation,
    assess_standard,
    cooking_power,
    heating_test,
    log_of,
    stagnation_test,
)
from .section import section_of_day
from .sight import Fault, Sight
from .simulate import misfit, simulate
from .sky import Sky, clear_sky, clearness_sky
from .status import Status
from .stray import Stray, stray_of_day
from .sun import Place, SkyError, sun_angles
from .timetable import timetable
from .weather import file_sky

__all__ = [
    "CAUTIONS",
    "DANGER_HIGH",
    "DANGER_LOW",
    "INTERVALS",
    "LIMITS",
    "LOSSES",
    "MERITS",
    "PLANES",
    "SENSORS",
    "SI",
    "Aim",
    "Aiming",
    "Air",
    "AsBuilt",
    "Blank",
    "Box",
    "ByHand",
    "Catalogue",
    "Catalogued",
    "Caution",
    "Cell",
    "Choice",
    "CookModel",
    "CookRecord",
    "CookingPower",
    "Count",
    "Cover",
    "DescriptionError",
    "Design",
    "Drive",
    "DriveReport",
    "DriveTrain",
    "Fault",
    "Fixed",
    "Funnel",
    "Heating",
    "Jacket",
    "Log",
    "Meal",
    "Merit",
    "Motor",
    "OffAxis",
    "Oven",
    "Place",
    "Plane",
    "Pot",
    "Price",
    "ProcedureError",
    "Quantity",
    "RecordError",
    "Sight",
    "Sky",
    "SkyError",
    "Spec",
    "Stagnation",
    "Stand",
    "Status",
    "Stray",
    "Surroundings",
    "Table",
    "Workshop",
    "aim",
    "assess_aiming",
    "assess_drive",
    "assess_standard",
    "beam_into_pot",
    "bill",
    "blanks_of",
    "cache_folder",
    "clear_sky",
    "clearness_sky",
    "cooking_power",
    "file_sky",
    "flows_of_day",
    "fold_angles",
    "ground_gap",
    "heating_test",
    "load_catalogue",
    "log_of",
    "misfit",
    "nearest_name",
    "off_axis_light",
    "pot_gap",
    "prepare",
    "section_of_day",
    "simulate",
    "source_hash",
    "specs",
    "stagnation_test",
    "start_and_stop",
    "stored_unit",
    "stray_of_day",
    "suggestion",
    "sun_angles",
    "table_of",
    "timetable",
    "trunnion_height",
]
