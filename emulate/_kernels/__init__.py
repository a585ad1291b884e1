"""Every numba loop over pixels: arrays in, `out` last; imports no other room."""
