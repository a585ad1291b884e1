"""Material in and out: the one door to image and video libraries."""
