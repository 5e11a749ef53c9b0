"""Coordinate systems and offsets (NISTIR 6556 3.2.2, 3.5.5, 3.5.8, 3.5.13, 3.5.18).

Kept in mm relative to the job's zero, which is the work zero the person set for G54 at the start.
Where that zero lies in machine coordinates may not be declared: places given in machine
coordinates are then NaN.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from dryrun.gcode.controller import Controller
from dryrun.gcode.parameters import (
    AXIS_OFFSETS,
    HOME,
    SECOND_HOME,
    SYSTEM,
    Parameters,
    origin_index,
)
from dryrun.gcode.state import NAN, ModalState

Vector = tuple[float, float, float]

#: Names of the systems 1..9; extra ones are 10 and up (G54.1 P1 is 10).
SYSTEM_NAMES = ("G54", "G55", "G56", "G57", "G58", "G59", "G59.1", "G59.2", "G59.3")


def system_name(system: int) -> str:
    """Return the code that selects a system."""
    return SYSTEM_NAMES[system - 1] if system <= 9 else f"G54.1 P{system - 9}"


@dataclass(slots=True)
class Offsets:
    """Origins, homes and their parameters.

    Attributes
    ----------
    zero : (x, y, z) or None
        The job's zero in machine coordinates, mm.
    origins : dict of int to list
        System -> its origin relative to the job's zero, mm; NaN not known.
    homes : dict of int to list or None
        28 and 30 -> machine coordinates, mm; None not declared.
    parameters_given : bool
        The controller's parameters were handed over, all of them.
    """

    state: ModalState
    parameters: Parameters
    controller: Controller
    zero: Vector | None
    origins: dict[int, list[float]] = field(default_factory=dict)
    homes: dict[int, list[float] | None] = field(default_factory=lambda: {28: None, 30: None})
    parameters_given: bool = False

    def declare(
        self, offsets: Mapping[str, Vector] | None, parameters: Mapping[int, float] | None
    ) -> None:
        """Take what is known before the program starts."""
        self.origins[1] = [0.0, 0.0, 0.0]
        self.parameters_given = parameters is not None
        if parameters is not None:
            self.parameters.numbered.update(parameters)
            for system in range(1, 10):
                self.origins[system] = self.from_parameters(system)
            for home, index in ((28, HOME), (30, SECOND_HOME)):
                self.homes[home] = [
                    parameters.get(index + k, 0.0) * self.state.factor for k in range(3)
                ]
            self.state.system = round(parameters.get(SYSTEM, 1.0))
        for name, origin in (offsets or {}).items():
            self.origins[_system_number(name)] = list(origin)
        self.state.origin = list(self.origins.get(self.state.system, [NAN] * 3))
        self.state.set_shift()

    def machine(self, axis: int) -> float:
        """Return the job's zero in machine coordinates, NaN not known."""
        return self.zero[axis] if self.zero is not None else NAN

    def from_parameters(self, system: int) -> list[float]:
        """Return a system's origin as its parameters give it in the active unit."""
        first = origin_index(system)
        numbered = self.parameters.numbered
        return [
            numbered.get(first + k, 0.0) * self.state.factor - self.machine(k) for k in range(3)
        ]

    def select(self, system: int) -> bool:
        """Make a system active; False when its place is not known."""
        state = self.state
        written = self.controller.parameters_as_written and system != state.system
        if written and system <= 9 and self._has_parameters(system):
            self.origins[system] = self.from_parameters(system)
        state.system = system
        state.origin = list(self.origins.get(system, [NAN] * 3))
        state.set_shift()
        return not any(math.isnan(v) for v in state.origin)

    def _has_parameters(self, system: int) -> bool:
        """Tell whether anything is known of a system's parameters: unset ones are no zeros."""
        if self.parameters_given:
            return True
        first = origin_index(system)
        return any(first + k in self.parameters.numbered for k in range(3))

    def set_machine_origin(self, system: int, axis: int, number: float) -> None:
        """G10 L2: the origin of one axis, a number in machine coordinates."""
        self.parameters.write(origin_index(system) + axis, number)
        self._set(system, axis, number * self.state.factor - self.machine(axis))

    def set_origin_here(self, system: int, axis: int, reading: float, tip: float) -> None:
        """G10 L20: the origin of one axis so that the present point reads the number."""
        state = self.state
        if math.isnan(tip):
            return
        rest = state.axis_offset[axis] + state.local_offset[axis]
        if axis == 2:
            rest += state.length_offset - state.spindle_length
        origin = tip - reading * state.factor - rest
        self._set(system, axis, origin)
        if not math.isnan(self.machine(axis)):
            value = (origin + self.machine(axis)) / state.factor
            self.parameters.write(origin_index(system) + axis, value)

    def _set(self, system: int, axis: int, origin: float) -> None:
        self.origins.setdefault(system, [NAN] * 3)[axis] = origin
        if system == self.state.system:
            self.state.origin[axis] = origin
            self.state.set_shift()

    # ---- axis offsets (G92)

    def shift_reading(self, axis: int, reading: float, wanted: float) -> None:
        """G92: make the present point read as wanted (3.5.18)."""
        state = self.state
        state.axis_offset[axis] += (reading - wanted) * state.factor
        state.set_shift()

    def store_axis_offsets(self) -> None:
        """Copy the axis offsets into 5211 to 5213."""
        for axis in range(3):
            value = self.state.axis_offset[axis] / self.state.factor
            self.parameters.write(AXIS_OFFSETS + axis, value)

    def clear_axis_offsets(self, forget: bool) -> None:
        """G92.2, and with `forget` G92.1."""
        self.state.axis_offset = [0.0, 0.0, 0.0]
        if forget:
            for index in range(AXIS_OFFSETS, AXIS_OFFSETS + 6):
                self.parameters.write(index, 0.0)
        self.state.set_shift()

    def restore_axis_offsets(self) -> None:
        """G92.3."""
        numbered = self.parameters.numbered
        self.state.axis_offset = [
            numbered.get(AXIS_OFFSETS + axis, 0.0) * self.state.factor for axis in range(3)
        ]
        self.state.set_shift()

    # ---- home

    def home(self, code: int) -> list[float]:
        """Return home (28, 30) in the job frame, mm; NaN not known."""
        place = self.homes[code]
        if self.controller.parameters_as_written:
            first = HOME if code == 28 else SECOND_HOME
            numbered = self.parameters.numbered
            place = [numbered.get(first + k, 0.0) * self.state.factor for k in range(3)]
        if place is None:
            place = [0.0, 0.0, 0.0] if code == 28 else [NAN] * 3
        job = [place[k] - self.machine(k) for k in range(3)]
        job[2] -= self.state.spindle_length
        return job

    def store_home(self, code: int) -> None:
        """G28.1, G30.1: home is here."""
        state = self.state
        tip = (state.x, state.y, state.z + state.spindle_length)
        place = [tip[k] + self.machine(k) for k in range(3)]
        self.homes[code] = place
        first = HOME if code == 28 else SECOND_HOME
        for axis in range(3):
            if not math.isnan(place[axis]):
                self.parameters.write(first + axis, place[axis] / state.factor)

    # ---- parameters kept by the controller

    def live(self, index: int) -> float | None:
        """Return a parameter that mirrors the controller's state, or None."""
        if index == SYSTEM:
            return float(self.state.system)
        if self.controller.parameters_as_written:
            return None
        if 5221 <= index <= 5386 and (index - 5221) % 20 < 3:
            system, axis = (index - 5201) // 20, (index - 5221) % 20
            origin = self.origins.get(system, [NAN] * 3)[axis]
            return (origin + self.machine(axis)) / self.state.factor
        if 5211 <= index <= 5213:
            return self.state.axis_offset[index - 5211] / self.state.factor
        return self._modal(index)

    def _modal(self, index: int) -> float | None:
        """Return modal codes and places as parameters (common practice, no source)."""
        state = self.state
        if 5001 <= index <= 5003 or 5041 <= index <= 5043:
            return state.program_position()[(index - 1) % 20]
        if 5021 <= index <= 5023:
            axis = index - 5021
            tip = (state.x, state.y, state.z + state.spindle_length)[axis]
            return (tip + self.machine(axis)) / state.factor
        modes = {
            4001: state.motion / 10,
            4002: float(state.plane),
            4003: 90.0 if state.absolute else 91.0,
            4005: float(state.feed_mode),
            4006: 20.0 if state.factor != 1.0 else 21.0,
            4007: float(state.compensation),
            4010: float(state.return_level),
            4014: 53.0 + state.system if state.system <= 6 else 59.0,
            4109: state.feed,
            4119: state.speed,
            4120: float(max(state.selected, 0)),
        }
        if index in modes:
            return modes[index]
        if 1000 <= index < 5000 or 5001 <= index < 5400 or index > 6000:
            return NAN
        return None

    def written(self, index: int, value: float) -> None:
        """Take over a parameter that the program set itself."""
        if self.controller.parameters_as_written:
            if index == SYSTEM and value in range(1, 10):
                self.state.system = int(value)
            return
        factor = self.state.factor
        if 5221 <= index <= 5386 and (index - 5221) % 20 < 3:
            system, axis = (index - 5201) // 20, (index - 5221) % 20
            self._set(system, axis, value * factor - self.machine(axis))
        elif 5161 <= index <= 5163 or 5181 <= index <= 5183:
            code, axis = (28, index - 5161) if index < 5170 else (30, index - 5181)
            place = self.homes[code] or [NAN] * 3
            place[axis] = value * factor
            self.homes[code] = place


def _system_number(name: str) -> int:
    """Return the number of the system a job calls by its code."""
    text = name.strip().upper().replace(" ", "")
    if text in SYSTEM_NAMES:
        return SYSTEM_NAMES.index(text) + 1
    if text.startswith("G54.1P") and text[6:].isdigit():
        return 9 + int(text[6:])
    listed = ", ".join((*SYSTEM_NAMES, "G54.1 P1"))
    raise ValueError(f"{name!r} is no coordinate system; known: {listed}")
