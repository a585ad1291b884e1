"""How loops over pixels share the processor."""


def takes_several_callers() -> bool:
    """Whether two threads may run parallel loops at once; only said once a loop has run.

    numba's own layer (`workqueue`) takes one caller at a time; OpenMP and TBB take any number.
    """
    import numba

    try:
        return bool(numba.threading_layer() != "workqueue")  # type: ignore[attr-defined]
    except ValueError:  # no parallel loop has run yet
        return False
