"""Every numba loop over pixels: arrays in, `out` last; imports nothing of ours."""
