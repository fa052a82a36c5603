"""What is packed comes back as it was, and equal contents are equal bytes."""

from __future__ import annotations

import math

import numpy as np
import pytest

from shopfloor.core.packing import packed, unpacked

FACTS = {"lives": 12, "share": 0.1 + 0.2, "until": math.inf, "words": ["break", None, "Größe"]}


def test_facts_and_arrays_come_back_to_the_last_digit() -> None:
    """Numbers, texts, truth values, and arrays without an entry."""
    arrays = {
        "ages": np.array([[0.1, math.inf], [1e-300, -0.0]]), "places": np.arange(3), "none": np.zeros((0, 2)),
        "ends": np.array(["wear", ""]), "own": np.array([True, False]),
    }  # fmt: skip
    facts, found = unpacked(packed(FACTS, arrays))
    assert (facts, list(arrays)) == (FACTS, list(found))
    assert all(np.array_equal(one, found[name]) and one.dtype == found[name].dtype for name, one in arrays.items())


def test_equal_contents_are_equal_bytes() -> None:
    """So that what did not change need not be stored again; another digit is another body."""
    one = packed(FACTS, {"ages": np.arange(5.0)})
    assert one == packed(dict(FACTS), {"ages": np.arange(5.0)})
    assert one != packed(FACTS, {"ages": np.arange(5.0) + 1e-15})


def test_nothing_that_could_run_is_packed() -> None:
    """An array of Python objects is refused."""
    with pytest.raises(ValueError, match="Object arrays"):
        packed(None, {"objects": np.array([object()])})
