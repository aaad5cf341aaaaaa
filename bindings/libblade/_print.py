"""From the ink on the roll to the print: transfer, density, tints, and what an eye needs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, NamedTuple

from libblade import _core
from libblade._errors import refuse
from libblade._physics import _number
from libblade._units import numbers, positive, si


class DensityLaw(NamedTuple):
    """Density of a solid against its ink, D = limit (1 - exp(-absorption y)) (Tollenaar & Ernst 1961, from memory)."""

    limit: float = 1.8
    """Of a thick film (common practice, no published source) [-]."""
    absorption: float = 1.253e6
    """[1/m]; by default 1.4 is reached at 1.2 um."""


class WalkerFetsko(NamedTuple):
    """Ink transfer y = (1 - exp(-k x)) (b (1 - exp(-x / b)) (1 - f) + f x) (Walker & Fetsko 1955, TAGA; from memory)."""

    smoothness: Any = 1e6
    """k of the print [1/m]."""
    immobilised: Any = 1e-6
    """b, what its surface can hold [m]."""
    split: Any = 0.3
    """f, share of the free ink that goes to the print [-]."""


def _transfer(law: Any) -> list[float]:
    if isinstance(law, WalkerFetsko):
        return [
            si(law.smoothness, "1/m", "transfer.smoothness"),
            si(law.immobilised, "m", "transfer.immobilised"),
            si(law.split, "1", "transfer.split"),
        ]
    return [si(law, "1", "transfer.share")]


def _density(law: DensityLaw | None) -> tuple[float, float]:
    law = DensityLaw() if law is None else law
    if not isinstance(law, DensityLaw):
        raise refuse("law", law, "must be a DensityLaw, e.g. from density_law")
    return si(law.limit, "1", "density.limit"), si(law.absorption, "1/m", "density.absorption")


def ink_transfer(offered: Any, law: Any = 0.3) -> Any:
    """Ink on the print [m] of that ``offered`` on the roll [m]; a number or an array, as given.

    ``law``: the share that gets there (0.25 to 0.40 is usual; common practice, no published source), or a ``WalkerFetsko``.
    Raises InvalidInput on negative ink and constants out of range.
    """
    return _number(_core.ink_transfer(numbers(offered, "m", "offered"), _transfer(law)))


def print_density(film: Any, law: DensityLaw | None = None) -> Any:
    """Density of a solid that carries a ``film`` of ink [m], relative to the paper; a number or an array, as given.

    Raises InvalidInput on a negative film and a law out of range.
    """
    return _number(_core.print_density(numbers(film, "m", "film"), *_density(law)))


def film_of_density(density: Any, law: DensityLaw | None = None) -> Any:
    """Film of ink [m] that gives a ``density``, the inverse of ``print_density``. Raises InvalidInput at its limit and beyond."""
    return _number(_core.film_of_density(numbers(density, "1", "density"), *_density(law)))


def density_law(films: Any, densities: Any, *, limit: Any = 1.8) -> DensityLaw:
    """The law through two readings: ``films`` [m] and ``densities``, two numbers each. With one number each, the law through that
    reading under this ``limit``.

    Raises InvalidInput on readings that no such law gives: the density has to rise, by less than the film.
    """
    y, d = numbers(films, "m", "films").ravel(), numbers(densities, "1", "densities").ravel()
    if y.size != d.size or y.size not in (1, 2):
        raise refuse("films", f"{y.size} films and {d.size} densities", "must be one or two of each")
    if y.size == 1:
        return DensityLaw(*_core.density_through(y[0], d[0], si(limit, "1", "limit")))
    return DensityLaw(*_core.density_from_readings(y[0], d[0], y[1], d[1]))


def tint_density(area: Any, solid_density: Any, n: Any = 1.0) -> Any:
    """Density of a tint whose dots cover ``area`` (0 to 1) with a solid of ``solid_density``: Murray 1936 at ``n`` = 1, Yule &
    Nielsen 1951 above. Numbers or arrays. Raises InvalidInput on values out of range.
    """
    return _number(
        _core.tint_density(numbers(area, "1", "area"), numbers(solid_density, "1", "solid_density"), si(n, "1", "n"))
    )


def dot_area(density: Any, solid_density: Any, n: Any = 1.0) -> Any:
    """Area of the dots of a tint of this ``density``, the inverse of ``tint_density``. Raises InvalidInput out of range."""
    return _number(
        _core.dot_area(numbers(density, "1", "density"), numbers(solid_density, "1", "solid_density"), si(n, "1", "n"))
    )


@dataclass(frozen=True)
class PrintLaw:
    """From the roll to the print, and who looks at it. Numbers, or texts with unit."""

    transfer: Any = 0.3
    """Share of the roll's ink that reaches the print, or a ``WalkerFetsko``."""
    density_limit: Any = 1.8
    """Of a thick film (common practice, no published source) [-]."""
    nominal_density: Any = 1.4
    """Of a solid where nothing is wrong: the density law passes through it (common practice, no published source) [-]."""
    tint: Any = 1.0
    """Area of the dots that are looked at; 1: a solid [-]."""
    yule_nielsen: Any = 1.0
    """n of the tint [-]."""
    least_contrast: Any = 0.01
    """Relative luminance by which a wide band is seen beside another (Weber; from memory) [-]."""
    reading_distance: Any = 0.4
    """[m]; below 1 minute of arc contrast x width counts."""
    sample_contrast: Any = 0.1
    """By which a whole print is told from the approved one (common practice, no published source) [-]."""

    @property
    def _core(self) -> _core.PrintLaw:
        return _core.PrintLaw(
            transfer=_transfer(self.transfer),
            density_limit=si(self.density_limit, "1", "density_limit"),
            nominal_density=si(self.nominal_density, "1", "nominal_density"),
            tint=si(self.tint, "1", "tint"),
            yule_nielsen=si(self.yule_nielsen, "1", "yule_nielsen"),
            contrast=si(self.least_contrast, "1", "least_contrast"),
            reading_distance=positive(self.reading_distance, "m", "reading_distance"),
            comparison_contrast=si(self.sample_contrast, "1", "sample_contrast"),
        )
