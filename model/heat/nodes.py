"""The network: its nodes, what it is made of, what it stands under.

      sun            sun                       sun
       |              |                         |
     pot ~~~~~~~~ cavity air ~~~~~~~~~ cover inner --- cover outer ~~ air, sky, ground
      | \\          ~    \\                /
    outer \\_______ sheet  leak _________/ (long wave between pot, sheet and cover)
      |             |  |
    middle   insulation rim
      |             |  |
     core         outer shell ~~ air, sky, ground

Contents are three shells; free water lies in the outer one. The cover has two nodes even
when it is one pane, since the faces of a thick pane differ by 10 K.
"""

from enum import IntEnum
from typing import Generic, NamedTuple, TypeVar

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Indices = NDArray[np.int64]
Entry = TypeVar("Entry", Array, float)


class Node(IntEnum):
    """Columns of recorded temperatures and peaks."""

    OUTER = 0
    MIDDLE = 1
    CORE = 2
    POT = 3
    AIR = 4
    SHEET = 5
    INSULATION = 6
    SHELL = 7
    COVER_INNER = 8
    COVER_OUTER = 9


class Flow(IntEnum):
    """Columns of the energy book [J]: absorbed = lost + stored, every entry a positive number as named."""

    POT_ABSORBED = 0
    SHEET_ABSORBED = 1
    COVER_ABSORBED = 2
    COVER_CONVECTION = 3
    COVER_RADIATION = 4
    SHELL_CONVECTION = 5
    SHELL_RADIATION = 6
    LEAK = 7
    STEAM = 8
    STORED = 9


class PerNode(NamedTuple):
    """One number for each node, in the order of `Node`: temperatures, capacities or heat."""

    outer: float
    middle: float
    core: float
    pot: float
    air: float
    sheet: float
    insulation: float
    shell: float
    cover_inner: float
    cover_outer: float


class Fabric(NamedTuple, Generic[Entry]):
    """What ovens are made of and what is in them; SI.

    A lane is one design on one day. `Build` holds all lanes, float64[lane] each; kernels hold the
    floats of one. Everything but the contents starts at the temperature of the air unless told otherwise.
    """

    solid_capacity: Entry  # J/K, of all that is not free water; a third in each shell, may be 0
    water_mass: Entry  # kg, free water at the start; 0 for oil and dry food: never boils
    contents_start: Entry  # K
    shell_conductance: Entry  # W/K, between neighbouring shells; large for a stirred liquid
    film_conductance: Entry  # W/K, pot to outer shell
    boiling_temperature: Entry  # K, at the pressure of the altitude
    vent_conductance: Entry  # kg/(s Pa), steam by the lid below boiling; 0 for a tight lid
    pot_capacity: Entry  # J/K, with lid
    pot_lid_area: Entry  # m2
    pot_side_area: Entry  # m2
    pot_bottom_area: Entry  # m2
    pot_radius: Entry  # m
    pot_height: Entry  # m
    pot_cover_exchange: Entry  # m2, total exchange areas in the long wave
    pot_sheet_exchange: Entry  # m2
    sheet_cover_exchange: Entry  # m2
    air_capacity: Entry  # J/K, air of the cavity
    cavity_height: Entry  # m, for the draught
    leak_area: Entry  # m2, effective leakage area of all joints
    sheet_capacity: Entry  # J/K, walls and plate
    sheet_area: Entry  # m2
    sheet_length: Entry  # m, slant height of the walls
    insulation_conductance: Entry  # W/K, whole, sheet to shell
    insulation_capacity: Entry  # J/K
    rim_conductance: Entry  # W/K, bridge from sheet to shell past the insulation
    shell_capacity: Entry  # J/K
    shell_area: Entry  # m2
    shell_height: Entry  # m
    shell_emittance: Entry
    cover_area: Entry  # m2
    cover_length: Entry  # m, area over perimeter
    cover_capacity: Entry  # J/K, all panes
    cover_conductance: Entry  # W/(m2 K), through one pane: conductivity over thickness
    gap_thickness: Entry  # m, between two panes; 0 for one pane
    cover_emittance: Entry


Build = Fabric[Array]


class Weather(NamedTuple):
    """What ovens stand under, by day and by aiming track.

    Instants are the edges of the steps; between them everything runs straight. The tilt is held
    during a step, as an aimed oven is. No vapour pressure means dry air.
    """

    air_temperature: Array  # float64[day, step + 1]   [K]
    sky_temperature: Array  # float64[day, step + 1]   [K]
    wind_speed: Array  # float64[day, step + 1]   [m/s]
    pressure: Array  # float64[day, step + 1]   [Pa]
    tilt: Array  # float64[track, step]   [rad] of the oven axis from zenith
    vapour_pressure: Array | None = None  # float64[day, step + 1]   [Pa]


class Forcing(NamedTuple):
    """What one lane feels during one step; floats, means of the step but for the two changes."""

    air: float  # K
    sky: float  # K
    air_change: float  # K, from the start to the end of the step
    sky_change: float  # K
    wind: float  # m/s
    pressure: float  # Pa
    vapour: float  # Pa
    cosine: float  # of the tilt
    sine_sixth: float  # sixth root of its sine
    cosine_third: float  # third and fourth root of its cosine
    cosine_fourth: float
    layer_cosine: float  # the same for the layer between two panes, held where its law ends
    obliquity: float  # sin(1.8 tilt)^1.6
    pot: float  # W absorbed
    sheet: float  # W absorbed
    cover: float  # W absorbed
