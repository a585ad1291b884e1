"""Families of patterns, in the order in which they are shown; light, so that help can name them."""

FAMILIES = (
    "ramp",
    "near_black",
    "black",
    "window",
    "checker",
    "primary",
    "chart24",
    "chart140",
    "grow",
    "spill",
    "crawl",
    "step",
    "uniformity",
    "angle",
    "room",
)
