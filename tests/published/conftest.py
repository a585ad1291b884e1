"""The witness of these tests."""

import pytest


@pytest.fixture(scope="session")
def colour():
    """colour-science, a general-purpose colour library, here only as a witness."""
    import warnings

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it warns of optional parts that are not installed
        import colour

    return colour
