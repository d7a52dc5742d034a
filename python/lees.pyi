"""Residual volatiles in a product from its proton NMR spectrum."""

from os import PathLike
from typing import Any, Literal, Mapping, Sequence, Union, final, overload

import numpy as np
from numpy.typing import NDArray

__version__: str

_Source = Union[str, PathLike[str], bytes, bytearray, memoryview]
_Limits = Union[str, Mapping[str, str]]
_Setting = Union[str, int, float, bool]

class Error(ValueError):
    """An input, product or setting that cannot be used; one line says why."""

@final
class Check:
    """What one spectrum told."""

    @property
    def verdict(self) -> Literal["dry", "needs_drying", "undecided"]: ...
    @property
    def path(self) -> str: ...
    @property
    def title(self) -> str: ...
    @property
    def sha256(self) -> str: ...
    @property
    def total_wt_percent(self) -> tuple[float, float, float] | None:
        """Sum of all counted volatiles, wt%: value, and ends of its 95 % interval."""
    @property
    def reasons(self) -> list[str]: ...
    @property
    def warnings(self) -> list[str]: ...
    @property
    def ppm(self) -> NDArray[np.float64]:
        """Shifts of the points, ppm, falling."""
    @property
    def intensity(self) -> NDArray[np.float64]:
        """Intensities as they were quantified; not a copy."""
    @property
    def noise(self) -> float: ...
    def to_json(self) -> str: ...
    def to_dict(self) -> dict[str, Any]: ...
    def findings(self) -> list[dict[str, str | int | float | None]]: ...
    def row(self) -> dict[str, str | int | float | None]: ...
    def text(self, width: int = 100) -> str: ...

@final
class Checker:
    """Checks spectra against one product; may be shared by threads."""

    def __new__(
        cls,
        product: str | PathLike[str] | None = None,
        *,
        limits: _Limits | None = None,
        solvent: str | None = None,
        settings: Mapping[str, _Setting] | None = None,
        strict: bool = False,
    ) -> "Checker": ...
    @overload
    def check(self, source: _Source, *, name: str | None = None, errors: Literal["raise"] = "raise") -> list[Check]: ...
    @overload
    def check(self, source: _Source, *, name: str | None = None, errors: Literal["return"]) -> list[Check | Error]: ...
    @property
    def identity(self) -> str:
        """Hash of version, tables, settings and product."""

@final
class Measurement:
    """A spectrum or a free induction decay."""

    @property
    def kind(self) -> Literal["spectrum", "fid"]: ...
    @property
    def x(self) -> NDArray[np.float64]:
        """Shifts in ppm, falling, of a spectrum; times in seconds of a FID."""
    @property
    def real(self) -> NDArray[np.float64] | None: ...
    @property
    def imaginary(self) -> NDArray[np.float64] | None: ...
    @property
    def points(self) -> NDArray[np.complex128] | None: ...
    @property
    def warnings(self) -> list[str]: ...
    @property
    def title(self) -> str: ...
    @property
    def field_mhz(self) -> float: ...
    @property
    def nucleus(self) -> str | None: ...
    @property
    def solvent(self) -> str | None: ...
    def __len__(self) -> int: ...

@final
class Simulated:
    """A simulated recording and what is really in it."""

    @property
    def spectrum(self) -> Measurement: ...
    @property
    def fid(self) -> Measurement: ...
    @property
    def truth(self) -> dict[str, Any]: ...
    def jcamp(self) -> bytes: ...

def check(
    source: _Source,
    product: str | PathLike[str] | None = None,
    *,
    limits: _Limits | None = None,
    solvent: str | None = None,
    settings: Mapping[str, _Setting] | None = None,
    strict: bool = False,
    name: str | None = None,
    errors: Literal["raise", "return"] = "raise",
) -> list[Check]:
    """Checks every proton spectrum or FID of a file."""

def columns(rows: Literal["findings", "spectra"] = "findings") -> Sequence[tuple[str, str, str, str]]:
    """Name, kind, unit and meaning of each column of a table."""

def read(source: _Source, *, name: str | None = None, strict: bool = False) -> list[Measurement]:
    """Reads every proton spectrum and FID of a file."""

def simulate(recipe: str | PathLike[str], *, seed: int | None = None) -> Simulated:
    """Simulates a recipe: a path or its TOML text."""
