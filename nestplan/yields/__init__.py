"""Counting: what a plan comes to, what no plan can pass, and what is left. Reads plans, jobs and hides only."""

from __future__ import annotations

from nestplan.yields.bounds import SetBound, area_bounds, fewest_hides, job_bound, set_bounds
from nestplan.yields.figures import figures_of, net_area, whole_sets, with_bounds, with_measures
from nestplan.yields.hide_bound import proven_fewest_hides
from nestplan.yields.offcuts import disc_lace, offcuts_of, straight_lace
from nestplan.yields.remaining_leather import with_measured_offcuts

__all__ = [
    "SetBound",
    "area_bounds",
    "disc_lace",
    "fewest_hides",
    "figures_of",
    "job_bound",
    "net_area",
    "offcuts_of",
    "proven_fewest_hides",
    "set_bounds",
    "straight_lace",
    "whole_sets",
    "with_bounds",
    "with_measured_offcuts",
    "with_measures",
]
