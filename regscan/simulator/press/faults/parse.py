"""A fault in words: "backlash station=2 size_mm=0.05"."""

import math
from dataclasses import MISSING, Field, fields
from typing import Any, get_args, get_origin, get_type_hints

from regscan.simulator.press.faults import FAULTS
from regscan.simulator.press.faults.fault import Fault
from regscan.tomlfile import suggest

# Lengths and times that are divided by.
ABOVE_ZERO = {
    "wavelength_mm",
    "period_s",
    "tau_min",
    "at_m_min",
    "roll_m",
    "thickness_um",
    "length_m",
    "order",
}


def parse_fault(text: str) -> Fault:
    """The fault that the words ask for: its name, then its parameters as key=value.

    Raises ValueError that says what is wrong and what there is to choose from.
    """
    words = text.split()
    names = [word for word in words if "=" not in word]
    name = "-".join(names).lower()
    kind = FAULTS.get(name)
    if kind is None:
        raise ValueError(f"there is no fault {name!r}; {suggest(name, FAULTS)}")
    given = dict(word.split("=", 1) for word in words if "=" in word)
    known = {field.name: field for field in fields(kind)}
    hints = get_type_hints(kind)
    for key in given:
        if key not in known:
            raise ValueError(f"{name} has no {key!r}; {suggest(key, known)}")
    missing = [key for key, field in known.items() if _needed(field) and key not in given]
    if missing:
        raise ValueError(f"{name} needs {', '.join(f'{key}=...' for key in missing)}")
    return kind(**{key: _value(f"{name} {key}", word, hints[key]) for key, word in given.items()})


def _needed(field: "Field[Any]") -> bool:
    return field.default is MISSING and field.default_factory is MISSING


def _value(place: str, word: str, kind: Any) -> Any:
    """The word as the parameter's type."""
    choices = get_args(kind)
    if kind is bool:
        choices = ("yes", "no")
    if choices and get_origin(kind) is not tuple:
        if word not in choices:
            raise ValueError(f"{place} is {word!r}; write one of {', '.join(choices)}")
        return word == "yes" if kind is bool else word
    try:
        if get_origin(kind) is tuple:
            return tuple(int(part) for part in word.split(","))
        number = kind(word)
    except ValueError:
        raise ValueError(f"{place} is {word!r}; write a number") from None
    key = place.split()[-1]
    if number != number or (key in ABOVE_ZERO and not 0.0 < number < math.inf):
        raise ValueError(f"{place} is {word!r}; write a number{' above 0' * (number == number)}")
    return number


def in_words(fault: Fault) -> str:
    """The words that parse_fault reads the same fault from."""
    parts = [fault.name]
    for field in fields(fault):
        value = getattr(fault, field.name)
        if value == field.default:
            continue
        if isinstance(value, bool):
            value = "yes" if value else "no"
        elif isinstance(value, tuple):
            value = ",".join(map(str, value))
        parts.append(f"{field.name}={value}")
    return " ".join(parts)
