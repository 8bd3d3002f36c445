"""An [aiming] table as the way of aiming it describes; a drive may be given by its numbers or by its parts."""

from dataclasses import dataclass, fields
from typing import Any

from ...model import (
    Aiming,
    ByHand,
    Cell,
    DescriptionError,
    Drive,
    DriveTrain,
    Fixed,
    Motor,
    Stand,
    specs,
    start_and_stop,
)
from .schema import made

AIMINGS: dict[str, type] = {"fixed": Fixed, "by hand": ByHand, "drive": Drive}


@dataclass(frozen=True)
class Rigged:
    """A way of aiming, and the wheel and motor a drive's speed comes from, if they are given."""

    aiming: Aiming
    train: DriveTrain | None = None


def rigged(values: Any, stand: Stand | None) -> Rigged | None:
    """What a sound [aiming] table describes; None where it needs a stand that is not sound itself.

    Raises
    ------
    DescriptionError
        A number given twice or not at all; parts that cannot work together. One sentence a fault, with its path.
    """
    if values.how != "drive":
        return Rigged(made(AIMINGS[values.how], values))
    faults = [*_speed_faults(values), *_share_faults(values)]
    if faults:
        raise DescriptionError(faults)
    if values.train and stand is None:
        return None
    given: dict[str, Any] = {field.name: getattr(values, field.name) for field in fields(Drive)}
    train = None
    if values.train and stand:
        train = DriveTrain(
            wheel_radius=values.train.wheel_radius,
            motor_speed=values.train.motor_speed,
            base_radius=stand.base_radius,
        )
        given["speed"] = train.speed
    if values.cell:
        shares = _shares(values)
        given |= {"start_share": shares.start, "stop_share": shares.stop}
    return Rigged(Drive(**given), train)


def _shares(values: Any) -> Any:
    try:
        return start_and_stop(made(Cell, values.cell), made(Motor, values.motor))
    except DescriptionError as error:
        raise DescriptionError([f"aiming.{fault}" for fault in error.faults]) from error


def _speed_faults(values: Any) -> list[str]:
    if values.train is None and values.speed is None:
        return [f"{_missing('speed')}; give it, or [aiming.train] with wheel_radius and motor_speed"]
    if values.train is not None and values.speed is not None:
        return ["aiming.speed: [aiming.train] gives it too; leave one of the two out"]
    return []


def _share_faults(values: Any) -> list[str]:
    parts = {"cell": values.cell, "motor": values.motor}
    absent = [name for name, part in parts.items() if part is None]
    shares = ("start_share", "stop_share")
    if len(absent) == 1:
        return [f"aiming.{absent[0]}: is missing; cell and motor give the shares together"]
    if absent:
        ways = "give it, or [aiming.cell] and [aiming.motor]"
        return [f"{_missing(name)}; {ways}" for name in shares if getattr(values, name) is None]
    twice = [name for name in shares if getattr(values, name) is not None]
    return [f"aiming.{name}: [aiming.cell] and [aiming.motor] give it too; leave it out" for name in twice]


def _missing(name: str) -> str:
    return f"aiming.{name} ({specs(Drive)[name].meaning}): is missing"
