"""Care of an engraved roll: what keeps it, with the cautions that belong to each. Facts of the trade, not of the equations."""

from __future__ import annotations

from typing import NamedTuple

from libblade._errors import one_of

COMMON = "common practice, no published source"
STOPPED = (
    "Only with the press stopped and locked out: a running roll draws in, and a doctor blade is razor-sharp. Cut-resistant "
    "gloves."
)
CHEMICALS = (
    "Cleaners and solvents burn skin, eyes and lungs, and may catch fire: observe the safety sheet of the cleaner's maker, gloves, "
    "eye protection and ventilation; never mix."
)
HEAVY = "Rolls are heavy: lifting gear of sufficient rating, with people trained for it, nobody under the load."


LOOKING = "From outside the guards: a running roll draws in."
RULES = "Local codes and site rules come first."


def together(*cautions: str) -> str:
    """Those that are named in ``cautions``, each once, and whose rules come first."""
    told = " ".join(cautions)
    named = [text for text in (LOOKING, STOPPED, CHEMICALS, HEAVY) if text in told]
    return " ".join((*named, RULES)) if named else ""


class CareFact(NamedTuple):
    """One thing to keep to with an engraved roll."""

    topic: str
    """A word to find it by."""
    advice: str
    caution: str
    """What can hurt whoever does it."""
    source: str


CARE: dict[str, CareFact] = {
    fact.topic: fact
    for fact in (
        CareFact(
            "pH",
            "Inks and cleaners that stay on the roll for long keep a pH of 4 to 10: the ceramic stands more, the bond layer and "
            "the metal under its pores do not.",
            together(CHEMICALS),
            COMMON,
        ),
        CareFact(
            "cleaning",
            "Clean before the ink dries, each time the roll stops for long: what has dried in the cells outlasts a wash-up.",
            together(STOPPED, CHEMICALS),
            COMMON,
        ),
        CareFact(
            "deep cleaning",
            "What has dried in takes a deep clean by a method that the roll's maker allows for this engraving; look at cells and "
            "walls under a microscope before and after.",
            together(CHEMICALS),
            COMMON,
        ),
        CareFact(
            "brushes",
            "Soft brushes on ceramic, never one of metal: steel and brass leave metal in the cells and break their walls.",
            together(STOPPED),
            COMMON,
        ),
        CareFact(
            "lifting",
            "Lift by the journals, never by the face, and set down on the journals.",
            together(HEAVY),
            COMMON,
        ),
        CareFact(
            "cover",
            "Cover the face whenever the roll is out of the press; nothing of metal touches it, no ring, tool or hook. Ceramic "
            "chips where steel dents.",
            together(HEAVY),
            COMMON,
        ),
        CareFact(
            "storage",
            "Store dry, clean and covered, resting on the journals, not on the face, away from traffic.",
            together(HEAVY),
            COMMON,
        ),
        CareFact(
            "standing",
            "Do not leave the blade pressed on a roll that stands: it marks and dries on.",
            together(STOPPED),
            COMMON,
        ),
        CareFact(
            "filter",
            "Filter the ink and keep a magnet in its loop: what the nip is fed it presses between blade and ceramic.",
            together(STOPPED, CHEMICALS),
            COMMON,
        ),
        CareFact(
            "volume",
            "Measure the cells' volume across the face when the roll is new and at fixed intervals, always in the same way.",
            together(STOPPED),
            COMMON,
        ),
    )
}

_FOR: dict[str, tuple[str, ...]] = {
    "scored_roll": ("filter", "volume"),
    "worn_band": ("volume", "filter"),
    "plugged_cells": ("cleaning", "deep cleaning", "brushes", "pH"),
    "handling_mark": ("lifting", "cover", "storage", "standing"),
    "propped_blade": ("filter",),
    "blade_nick": ("filter", "cover"),
    "lodged_particle": ("filter", "cleaning"),
    "blocked_supply": ("filter", "cleaning"),
    "run_out": ("lifting", "storage"),
}


def care_for(cause: str) -> tuple[CareFact, ...]:
    """What belongs to a cause of a line; nothing for most that do not sit on the roll."""
    return tuple(CARE[topic] for topic in _FOR.get(cause, ()))


def roll_care(topic: str | None = None) -> tuple[CareFact, ...]:
    """What keeps an engraved roll, all of it or one ``topic``, each with its cautions and its source.

    Common practice of the trade without a published source: the roll's maker, local codes and site rules come first. Raises
    InvalidInput on an unknown topic.
    """
    if topic is None:
        return tuple(CARE.values())
    one_of("topic", topic, CARE)
    return (CARE[topic],)
