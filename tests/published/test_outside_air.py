"""Sky temperature, humidity and the daily course of the air.

Berdahl, P. and Martin, M., Solar Energy 32 (1984) 663; Swinbank, W. C., Quart. J. R. Met. Soc. 89 (1963) 339,
worked out by hand; water's vapour pressure from the IAPWS formulation through CoolProp; ASHRAE Handbook of
Fundamentals 2009, chapter 14, table 6, the share of the daily range below the high (from memory).
"""

import math
from typing import Any

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI

from noonhearth.model.air_outside import (
    Air,
    dew_point_magnus,
    diurnal_temperature_erbs,
    sky_emittance_unsworth_monteith,
    sky_temperature_berdahl_martin,
    sky_temperature_swinbank,
    vapour_pressure_magnus,
)
from noonhearth.model.described import DescriptionError

BERDAHL = "Berdahl and Martin, Solar Energy 32 (1984) 663"
SWINBANK = "Swinbank, Quart. J. R. Met. Soc. 89 (1963) 339"
ZERO = 273.15
SIX_O_CLOCK, NOON = math.pi / 2, 0.0


@pytest.mark.parametrize(
    ("air", "dew", "swinbank", "no_hour", "noon"),
    [
        (20, 0, 277.060, 269.189, 267.950),
        (20, 10, 277.060, 274.990, 273.829),
        (25, 10, 284.179, 279.680, 278.499),
        (30, 20, 291.357, 291.268, 290.151),
    ],
)
def test_sky_temperature(
    air: float, dew: float, swinbank: float, no_hour: float, noon: float, published: Any
) -> None:
    def ours(hour_angle: float, pressure: float = 100_000.0) -> float:
        return float(
            sky_temperature_berdahl_martin(
                air_temperature=np.array(air + ZERO),
                dew_point=np.array(dew + ZERO),
                hour_angle=hour_angle,
                pressure=pressure,
            )
        )

    dry = float(sky_temperature_swinbank(np.array(air + ZERO)))
    what = f"sky, air {air} degC (dew {dew}) [K]"
    published(SWINBANK, what, f"{swinbank:.3f}", dry, within=1e-3, kind="worked")
    for hour, angle, printed in (("06:00", SIX_O_CLOCK, no_hour), ("12:00", NOON, noon)):
        what = f"sky at {hour}, air {air}, dew {dew} degC [K]"
        published(BERDAHL, what, f"{printed:.3f}", ours(angle), within=1e-3, kind="worked")
    emittance = (ours(SIX_O_CLOCK, 80_000.0) / (air + ZERO)) ** 4
    assert emittance == pytest.approx((no_hour / (air + ZERO)) ** 4 - 0.024, abs=2e-5)  # 0.00012 per hPa


def test_full_cloud_leaves_16_percent_of_the_gap() -> None:
    ours = sky_emittance_unsworth_monteith(clear=np.array(0.75), cloud=np.array([0.0, 0.5, 1.0]))
    assert ours == pytest.approx([0.75, 0.855, 0.96])


@pytest.mark.parametrize("celsius", [0.01, 10.0, 20.0, 30.0, 45.0])
def test_vapour_pressure_of_water(celsius: float) -> None:
    iapws = PropsSI("P", "T", celsius + ZERO, "Q", 1, "Water")
    # 0.4 % is 0.07 K of dew point; the source claims 0.35 K (from memory)
    assert float(vapour_pressure_magnus(np.array(celsius + ZERO))) == pytest.approx(iapws, rel=4e-3)


def test_dew_point_and_back() -> None:
    air = np.array([275.0, 290.0, 310.0])
    dew = dew_point_magnus(air_temperature=air, relative_humidity=np.array([1.0, 0.5, 0.2]))
    assert dew[0] == pytest.approx(275.0)
    assert vapour_pressure_magnus(dew) / vapour_pressure_magnus(air) == pytest.approx([1.0, 0.5, 0.2])


ASHRAE = np.array(
    [
        *(0.88, 0.92, 0.95, 0.98, 1.00, 0.98, 0.91, 0.74, 0.55, 0.38, 0.23, 0.13),
        *(0.05, 0.00, 0.00, 0.06, 0.14, 0.24, 0.39, 0.50, 0.59, 0.68, 0.75, 0.82),
    ]
)


def test_daily_course_of_the_air() -> None:
    hours = np.arange(1, 25)
    ours = diurnal_temperature_erbs(
        low=np.array(280.0), high=np.array(290.0), hour_angle=(hours - 12) * math.pi / 12
    )
    below_high = (290.0 - ours) / 10.0
    # one is a mean month's day, the other a clear design day, which warms an hour or so sooner
    assert np.sqrt(np.mean((below_high - ASHRAE) ** 2)) < 0.06
    assert hours[np.argmin(ours)] == pytest.approx(hours[np.argmax(ASHRAE)], abs=1)
    assert hours[np.argmax(ours)] == pytest.approx(14.5, abs=1)


def test_daily_course_reaches_the_low_and_the_high() -> None:
    around = np.linspace(-math.pi, math.pi, 5001)
    ours = diurnal_temperature_erbs(low=np.array(280.0), high=np.array(291.0), hour_angle=around)
    assert (ours.min(), ours.max()) == pytest.approx((280.0, 291.0), abs=1e-4)


def test_published_shape_has_a_swing_of_one() -> None:
    """Unstretched, the coefficients give 0.98: A is the peak-to-peak amplitude, as the authors define it."""
    around = np.linspace(-math.pi, math.pi, 5001)
    t = around + math.pi - math.pi / 12
    terms = ((0.4632, 3.805), (0.0984, 0.360), (0.0168, 0.822), (0.0138, 3.513))
    shape = sum(a * np.cos((i + 1) * t - b) for i, (a, b) in enumerate(terms))
    assert np.ptp(shape) == pytest.approx(1.0, abs=0.03)
    ours = diurnal_temperature_erbs(low=np.array(0.0), high=np.array(1.0), hour_angle=around)
    assert ours == pytest.approx((shape - shape.min()) / np.ptp(shape), abs=1e-5)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"low": 25.0}, "air.low = 25.0 K, allowed 180 to 330 K"),
        ({"high": (290.0, 291.0)}, "air.high has 2 values"),
        ({"low": 305.0}, "air.low is above air.high"),
        ({"wind_speed": -1.0}, "air.wind_speed"),
    ],
)
def test_impossible_air_is_refused(change: dict[str, object], message: str) -> None:
    with pytest.raises(DescriptionError, match=message):
        Air(**({"low": 285.0, "high": 300.0, "dew_point": 280.0, "wind_speed": 2.0} | change))  # type: ignore[arg-type]
