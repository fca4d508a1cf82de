"""Plain JSON values into typed ones and back: the types say what may stand where.

In:    what `json.load` gave and a type: a frozen dataclass, `float`, `str`, `Literal`, `tuple[X, ...]`,
       `Mapping[str, X]`, `X | None`; or such a value to be written.
Out:   a value of that type; or what `json.dump` takes.
Fails: `FieldError`, a `LayoutFileError`, which names the place in the file (`lights[2].x_mm`) and what
       should stand there; the ValueError of a dataclass that refuses its values becomes one too.

A field's key in the file is its name, or its `key` in `Kept`. A field that has a default may be left out
of the file, or be null there.
"""

from __future__ import annotations

import math
import re
import sys
from collections.abc import Iterable, Mapping
from dataclasses import MISSING, dataclass, fields, is_dataclass
from functools import cache
from types import NoneType, UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin, get_type_hints

from circuit.errors import LayoutFileError

PLACES = 3  # a micrometre: far below what paper holds, and keeps the file readable
_LARGEST = sys.float_info.max  # a file's whole number may be longer than any float
_NUMBER = re.compile(r"[+-]?\d{1,12}(\.\d{0,12})?")  # as a maker writes one
_LONGEST_SHOWN = 60  # chosen: characters of a wrong value that a sentence repeats


class FieldError(LayoutFileError):
    """`where` is the place in the file, "" for all of it; `fault` says what should stand there."""

    def __init__(self, where: str, fault: str) -> None:
        self.where, self.fault = where, fault
        super().__init__(f"This file can't be used: {self.clause}.")

    @property
    def clause(self) -> str:
        """The fault without the sentence round it: `lights[2].x_mm should be a number, not 'wide'`."""
        return f"{self.where or 'the file'} {self.fault}"


@dataclass(frozen=True, slots=True)
class Kept:
    """How a field stands in the file, as `Annotated[float, Kept(digits=3)]`: its `key`, how many decimal
    `places` or significant `digits` its numbers are written with; `omit` leaves it out where it has its default."""

    key: str | None = None
    places: int | None = PLACES
    digits: int | None = None
    omit: bool = False


def value_as(kind: Any, value: object, where: str = "", *, most_mm: float = math.inf) -> Any:
    """`value`, read as a `kind`; `where` it stands in the file.

    most_mm : numbers of points, and of fields whose name ends in `_mm`, may not be larger: cards are
        smaller, and one such slip would spoil every picture.
    """
    return _read(kind, value, where, most_mm)


def mapping_of(value: object, where: str = "") -> Mapping[str, Any]:
    """The value where it is an object in braces. Raises FieldError for anything else."""
    if value is None and where:
        raise FieldError(where, "is missing")
    if not isinstance(value, Mapping):
        raise FieldError(where, "should stand in braces, {...}")
    return value


def list_of(value: object, where: str = "") -> list[Any]:
    """The value where it is a list. Raises FieldError for anything else."""
    if not isinstance(value, list):
        raise FieldError(where, "should be a list in square brackets")
    return value


def brief(value: object) -> str:
    """A wrong value as a sentence repeats it: plain characters, not too many."""
    text = ascii(value)
    return text if len(text) <= _LONGEST_SHOWN else f"{text[: _LONGEST_SHOWN - 3]}..."


def plain(value: object, how: Kept | None = None) -> Any:
    """A typed value as plain JSON values, numbers rounded; the inverse of `value_as`."""
    how = how or Kept()
    if is_dataclass(value) and not isinstance(value, type):
        items = [(one, getattr(value, one.name)) for one in _record_fields(type(value))]
        return {
            one.key: plain(item, one.how) for one, item in items if not (one.how.omit and item == one.default)
        }
    if isinstance(value, Mapping):
        return {key: plain(item, how) for key, item in value.items()}
    if isinstance(value, tuple | list):
        return [plain(item, how) for item in value]
    return rounded(value, how) if isinstance(value, float) else value


def rounded(value: float, how: Kept | None = None) -> float:
    """To so many decimal places, or to so many significant digits."""
    how = how or Kept()
    if how.digits is not None:
        return float(f"{float(value):.{how.digits}g}")
    if how.places is None:
        return float(value)
    return round(float(value), how.places) + 0.0  # + 0.0 turns -0.0 into 0.0


@dataclass(frozen=True, slots=True)
class _RecordField:
    """One field of a dataclass; `needed`: it has no default; `nullable`: null may stand for it."""

    name: str
    key: str
    kind: Any
    how: Kept
    needed: bool
    nullable: bool
    is_number: bool
    default: Any


@cache
def _record_fields(kind: type) -> tuple[_RecordField, ...]:
    hints = get_type_hints(kind, include_extras=True)
    found = []
    for one in fields(kind):
        inner, how = hints[one.name], Kept()
        if get_origin(inner) is Annotated:
            inner, how = get_args(inner)[:2]
        found.append(
            _RecordField(
                name=one.name,
                key=how.key or one.name,
                kind=inner,
                how=how,
                needed=one.default is MISSING and one.default_factory is MISSING,
                nullable=NoneType in get_args(inner),
                is_number=inner in (float, float | None),
                default=one.default,
            )
        )
    return tuple(found)


def _read(kind: Any, value: object, where: str, most_mm: float) -> Any:
    origin, inner = get_origin(kind), get_args(kind)
    if kind is Any or kind is object:
        return value
    if origin in (Union, UnionType):
        options = [one for one in inner if one is not NoneType]
        if value is None and NoneType in inner:
            return None
        if len(options) != 1:
            return _first_that_fits(options, value, where, most_mm)
        return _read(options[0], value, where, most_mm)
    if origin is Literal:
        return _one_of(inner, value, where)
    if origin is tuple:
        return _read_tuple(inner, value, where, most_mm)
    if origin is not None and issubclass(origin, Mapping):
        return {
            str(key): _read(inner[1], item, f"{where}.{key}", most_mm)
            for key, item in mapping_of(value, where).items()
        }
    if is_dataclass(kind):
        return _read_record(kind, value, where, most_mm)
    return _read_plain(kind, value, where, most_mm)


def _first_that_fits(options: list[Any], value: object, where: str, most_mm: float) -> Any:
    for one in options[:-1]:
        try:
            return _read(one, value, where, most_mm)
        except FieldError:
            continue
    return _read(options[-1], value, where, most_mm)


def _one_of(choices: tuple[Any, ...], value: object, where: str) -> Any:
    if value not in choices or isinstance(value, bool):
        said = [str(choice) for choice in choices]
        raise FieldError(
            where, f"should be {' or '.join([', '.join(said[:-1]), said[-1]])}, not {brief(value)}"
        )
    return value


def _read_tuple(inner: tuple[Any, ...], value: object, where: str, most_mm: float) -> tuple[Any, ...]:
    items = list_of(value, where)
    if inner[-1] is Ellipsis:
        return tuple(_read(inner[0], item, f"{where}[{i}]", most_mm) for i, item in enumerate(items))
    if len(items) != len(inner):
        raise FieldError(where, f"should be {len(inner)} values, not {len(items)}")
    return tuple(
        _read(one, item, f"{where}[{i}]", most_mm) for i, (one, item) in enumerate(zip(inner, items))
    )


def _read_record(kind: Any, value: object, where: str, most_mm: float) -> Any:
    record, read = mapping_of(value, where), {}
    for one in _record_fields(kind):
        item, place = record.get(one.key), f"{where}.{one.key}" if where else one.key
        if item is None and not one.needed:
            continue
        if one.key not in record and not one.nullable:
            known = {each.key for each in _record_fields(kind)}
            raise FieldError(place, f"is missing{_instead(key for key in record if key not in known)}")
        is_length = not one.is_number or one.name.endswith("_mm")
        read[one.name] = _read(one.kind, item, place, most_mm if is_length else math.inf)
    try:
        return kind(**read)
    except ValueError as error:  # its message names the field
        raise FieldError(where, f"makes no sense: {error}") from error


def _instead(keys: Iterable[object]) -> str:
    """What stands there that nothing reads: mostly the missing field under another name."""
    there = ", ".join(str(key) for key in keys)
    return f" ({brief(there)} is not known)" if there else ""


def _read_plain(kind: Any, value: object, where: str, most_mm: float) -> Any:
    if kind is bool:
        if not isinstance(value, bool):
            raise FieldError(where, f"should be true or false, not {brief(value)}")
        return value
    if kind is str:
        if not isinstance(value, str):
            raise FieldError(where, f"should be a text, not {brief(value)}")
        return value
    if isinstance(value, bool) or not isinstance(value, int | float) or not abs(value) <= _LARGEST:
        quoted = isinstance(value, str) and _NUMBER.fullmatch(value) is not None
        hint = "; leave out the quotes" if quoted else ""
        raise FieldError(where, f"should be a number, not {brief(value)}{hint}")
    if abs(value) > most_mm:
        raise FieldError(where, f"is {value:g} mm, more than {most_mm:g} mm; cards are smaller")
    if kind is int:
        if value != int(value):
            raise FieldError(where, f"should be a whole number, not {brief(value)}")
        return int(value)
    return float(value)
