"""Short reminders for a bench where knives, punches, glue and dust can hurt someone.

Common workshop practice; where a hazard is published its source stands beside the line. They remind, they do
not approve: the maker's instructions and safety sheet, local rules and trained practice come first.
"""

from __future__ import annotations

__all__ = [
    "ABOVE_ALL",
    "CUTTING",
    "DUST",
    "GLUING",
    "PUNCHING",
]

ABOVE_ALL = (
    "Reminders, not a safety approval: the makers' instructions and safety sheets, local rules and trained "
    "practice come first."
)
CUTTING = (
    "Keep the hand that holds the rule behind the blade and out of its path; cut away from yourself and from others.",
    "Use a sharp blade: a blunt one needs force and slips. Sheath it, or close its guard, whenever it is put down.",
    "Hold a rule that cannot slide, on a firm board at a good height; keep hands clear of a strip cutter's pull.",
    "Children and beginners cut only with someone trained beside them.",
)
PUNCHING = (
    "Punch on a board over wood or plastic, never on stone or metal; wear eye protection when a mallet is used.",
)
GLUING = (
    # Vapour of solvent cement is highly flammable, with flash points far below freezing on one maker's data
    # sheet of 2015; a repair shop burned from a heater (KnifeDogs forum; NIOSH HHE 76-46-375 on ventilation).
    "Solvent glue: follow its label and safety sheet, ventilate well, and keep heaters, flames and sparks away: "
    "its vapour burns.",
)
DUST = (
    # IARC monograph 100C on leather dust.
    "Sanding and edging make leather dust: draw it off at the source or wear a mask; do not blow it about.",
)
