"""The drive from its parts: a wheel on the edge of the base, a motor, the cell that feeds it.

They give the numbers a `Drive` is described by: turning speed, and the lit shares at which it starts and stops.
"""

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import wrightomega

from .described import Checked, DescriptionError, count, quantity

Floats = NDArray[np.float64]

BOLTZMANN = 1.380649e-23  # J/K; exact in the 2019 SI
ELEMENTARY_CHARGE = 1.602176634e-19  # C; exact in the 2019 SI

MOST_VOLTS = 1.2  # V; no junction gives more than its band gap, 1.12 eV in silicon (from memory)


@dataclass(frozen=True, kw_only=True)
class DriveTrain(Checked):
    """A wheel that rolls on the edge of the turning base without slipping."""

    wheel_radius: float = quantity("length", 5e-4, 1.0, "drive wheel")
    base_radius: float = quantity("length", 0.05, 3.0, "pivot to the edge the wheel runs on")
    motor_speed: float = quantity("angular_speed", 1e-4, 100.0, "of the wheel's shaft, behind any gear")

    @property
    def speed(self) -> float:
        """Turning speed of the oven. [rad/s]"""
        return self.motor_speed * self.wheel_radius / self.base_radius

    @property
    def travel_per_turn(self) -> float:
        """Way of the base's edge in one turn of the wheel. [m]"""
        return 2 * math.pi * self.wheel_radius

    @property
    def turn_per_turn(self) -> float:
        """Angle by which the oven turns in one turn of the wheel. [rad]"""
        return self.travel_per_turn / self.base_radius


@dataclass(frozen=True, kw_only=True)
class Cell(Checked):
    """A photovoltaic cell, or several in series with their strips laid across the fin's shadow.

    So laid, each is lit in the same share, and the current goes with the light. Strips laid along the fin
    would be dark one after the other, and one dark strip stops them all: not modelled. Series resistance and
    leakage are left out: a motor near standstill draws little.

    Source
    ------
    Duffie, J. A. and Beckman, W. A., Solar Engineering of Thermal Processes, ch. 23: single diode,
    I = I_L - I_0 (exp(V/a) - 1) with a = n N k T/q (equation numbers 23.2.1 and 23.2.2 from memory). I_L is in
    proportion to the light.
    """

    open_voltage: float = quantity("voltage", 0.1, 100.0, "without load in full sun, wholly lit")
    full_current: float = quantity("current", 1e-4, 100.0, "short-circuited in full sun, wholly lit")
    in_series: int = count(1, 200, "cells in series")
    ideality: float = quantity("share", 1.0, 2.0, "of the diode: n", default=1.3)
    cell_temperature: float = quantity("temperature", 250.0, 380.0, "of the junction", default=298.15)

    def __post_init__(self) -> None:
        super().__post_init__()
        if self.open_voltage > MOST_VOLTS * self.in_series:
            raise DescriptionError(
                [
                    f"cell.open_voltage = {self.open_voltage:g} V, allowed up to {MOST_VOLTS * self.in_series:g} V for "
                    f"{self.in_series} in series: count the cells, silicon gives about 0.6 V each"
                ]
            )

    @property
    def thermal_voltage(self) -> float:
        """a = n N k T/q, by which the voltage rises when the light grows e-fold. [V]"""
        return self.ideality * self.in_series * BOLTZMANN * self.cell_temperature / ELEMENTARY_CHARGE

    @property
    def saturation_current(self) -> float:
        """I_0, from open circuit in full sun. [A]"""
        return self.full_current / math.expm1(self.open_voltage / self.thermal_voltage)

    def open_voltage_at(self, exposure: ArrayLike) -> Floats:
        """Voltage without load; a quarter of the light costs it only ln(4) thermal voltages. [V]"""
        lit = np.asarray(exposure, np.float64) * math.expm1(self.open_voltage / self.thermal_voltage)
        return np.asarray(self.thermal_voltage * np.log1p(lit))

    def voltage_at(self, exposure: ArrayLike, *, resistance: float) -> Floats:
        """Voltage over a resistance, such as a motor held still. [V]

        V/R = x I_L - I_0 (exp(V/a) - 1) solved for V with the Wright omega function, omega + ln(omega) = z.
        """
        a, dark = self.thermal_voltage, self.saturation_current
        forward = resistance * (
            np.asarray(exposure, np.float64) * self.full_current + dark
        )  # V, without diode
        z = forward / a + math.log(dark * resistance / a)
        return np.asarray(forward - a * wrightomega(z))

    def exposure_for(self, voltage: ArrayLike, *, resistance: float = math.inf) -> Floats:
        """Light, as a share of full sun on the whole cell, that holds this voltage over the resistance. [1]"""
        volts = np.asarray(voltage, np.float64)
        diode = self.saturation_current * np.expm1(volts / self.thermal_voltage)
        return np.asarray((volts / resistance + diode) / self.full_current)


@dataclass(frozen=True, kw_only=True)
class Motor(Checked):
    """A small direct-current motor with its gear, as measured on the oven with a bench supply.

    Near standstill it makes no voltage of its own and draws V/R; the current has to beat friction, which is
    larger at rest than in motion.
    """

    resistance: float = quantity("resistance", 1e-2, 1e5, "of the winding")
    start_voltage: float = quantity("voltage", 1e-3, 100.0, "at which it breaks away")
    stop_voltage: float = quantity("voltage", 0.0, 100.0, "at which it comes to rest")


class Shares(NamedTuple):
    """Lit shares of a cell in full sun at which a motor starts and stops."""

    start: float
    stop: float


def start_and_stop(cell: Cell, motor: Motor) -> Shares:
    """Shares for a `Drive`, from its cell and motor.

    Raises
    ------
    DescriptionError
        If the whole cell in full sun would not start the motor, or it would stop no lower than it starts.
    """
    start, stop = (
        float(cell.exposure_for(volts, resistance=motor.resistance))
        for volts in (motor.start_voltage, motor.stop_voltage)
    )
    if start >= 1:
        raise DescriptionError(
            [
                f"motor.start_voltage = {motor.start_voltage:g} V over {motor.resistance:g} ohm takes "
                f"{start:.2g} times the light of full sun on the whole cell: use a larger cell, or a lighter motor"
            ]
        )
    if stop >= start:
        raise DescriptionError(
            [
                f"motor.stop_voltage = {motor.stop_voltage:g} V, allowed below start_voltage "
                f"{motor.start_voltage:g} V: friction is larger at rest"
            ]
        )
    return Shares(start, stop)
