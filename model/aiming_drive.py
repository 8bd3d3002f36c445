"""A drive's report as variables of a Dataset, with what its wheel and motor would have to be to keep up."""

import math
from typing import Any

import numpy as np

from .drive_parts import DriveTrain
from .drive_report import DriveReport
from .labels import text_of
from .sky import Sky
from .ways import Drive

Variables = dict[str, tuple[Any, Any, dict[str, str]]]


def driven(drive: Drive, report: DriveReport, sky: Sky) -> Variables:
    """What a report on the drive says, named and in units."""
    row, minute = report.fastest_at
    ran = np.cumsum(report.outrun, axis=1)[:, -1] * sky.step
    back = report.reversed.sum(axis=1) * sky.step
    middle = [float(np.flatnonzero(m).mean()) if m.any() else math.nan for m in report.outrun]
    azimuth = "azimuth error while the sun shines; above 0 the sun is ahead in the drive's way"
    scalars = {
        "dead_band": (report.dead_band, "angle", "across the mouth, from stop to start of the motor"),
        "start_angle": (
            drive.start_angle,
            "angle",
            "across the mouth, at which the motor starts in full sun",
        ),
        "mean_error": (report.mean_error, "angle", f"mean {azimuth}"),
        "rms_error": (report.rms_error, "angle", f"root mean square {azimuth}"),
        "worst_error": (report.worst_error, "angle", f"largest {azimuth}"),
        "travel_per_step": (
            report.travel_per_step,
            "angle",
            "turn of the oven from start to stop of the motor",
        ),
        "edge_per_step": (report.edge_per_step, "length", "the same at the edge of the base"),
        "starts_per_hour": (report.starts_per_hour, "count", "starts of the motor in an hour of sunshine"),
        "duty": (report.duty, "share", "of the cook in which the motor runs"),
        "drive_speed": (report.speed, "angular_speed", "of the drive"),
        "fastest_rate": (report.fastest_rate, "angular_speed", "of the sun's azimuth, in the drive's way"),
        "fastest_day": (row, "count", "day on which that is"),
        "fastest_time": (sky.step * minute, "time", "time on that day, since the food was loaded"),
        "reserve": (
            report.speed_ratio,
            "share",
            "speed of the drive over the sun's fastest; under 1: too slow",
        ),
        "least_dni": (drive.least_dni, "irradiance", "beam below which the motor never starts"),
        "diffuse_hold": (
            report.diffuse_hold,
            "irradiance",
            "diffuse light that keeps a running motor running",
        ),
        "diffuse_most": (float(sky.dhi.max()), "irradiance", "most diffuse light of the days"),
        "cloud": (report.cloud, "time", "length of the cloud put before the sun at its fastest"),
    }
    days = {
        "outrun_time": (ran, "time", "in which the sun's azimuth is faster than the drive"),
        "outrun_middle": (sky.step * np.array(middle), "time", "middle of it, since the food was loaded"),
        "reversed_time": (back, "time", "in which the sun's azimuth runs against the drive's way"),
        "lost_time": (
            report.lost.sum(axis=1) * sky.step,
            "time",
            "in which the sun is bright but so far round that the cell does not see it",
        ),
        "lost_from": (
            np.where(report.lost.any(axis=1), report.lost.argmax(axis=1) * sky.step, np.nan),
            "time",
            "when that begins, since the food was loaded; nan: never",
        ),
        "way": (report.way, "count", "of the drive: 1 clockwise from above, -1 not"),
        "from_east": (report.from_east, "time", "until on the sun, left facing east; nan: not in the cook"),
        "from_west": (
            report.from_west,
            "time",
            "until on the sun, left as the evening before left it; nan: not in the cook",
        ),
        "cloud_drift": (report.cloud_drift, "angle", "by which the sun gets ahead under the cloud"),
        "cloud_recovery": (
            report.cloud_recovery,
            "time",
            "from the cloud's end until back on the sun; nan: not in the cook",
        ),
        "edge_travel": (report.edge_travel, "length", "way of the base's edge in the cook"),
    }
    return {name: ((), value, text_of(dim, text)) for name, (value, dim, text) in scalars.items()} | {
        name: ("day", value, text_of(dim, text)) for name, (value, dim, text) in days.items()
    }


def from_parts(report: DriveReport, train: DriveTrain | None) -> Variables:
    """The wheel and motor, and those that would just keep up with the sun at its fastest."""
    if train is None:
        return {}
    more = report.fastest_rate / train.speed
    scalars = {
        "wheel_radius": (train.wheel_radius, "length", "of the drive wheel"),
        "motor_speed": (train.motor_speed, "angular_speed", "of the wheel's shaft"),
        "edge_per_turn": (train.travel_per_turn, "length", "way of the base's edge in one turn of the wheel"),
        "wheel_needed": (train.wheel_radius * more, "length", "wheel radius that just keeps up, same motor"),
        "motor_needed": (
            train.motor_speed * more,
            "angular_speed",
            "shaft speed that just keeps up, same wheel",
        ),
    }
    return {name: ((), value, text_of(dim, text)) for name, (value, dim, text) in scalars.items()}
