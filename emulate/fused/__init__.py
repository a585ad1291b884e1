"""The recipe in two passes of tiles: a twin of `rendering` that gives the same light, faster."""
