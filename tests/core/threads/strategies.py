"""Threads, sizes and drills for property tests."""

from __future__ import annotations

from hypothesis import strategies as st

from shopfloor.core.threads.series import Designation, Series
from shopfloor.core.threads.text import standard_threads

plain_threads = st.sampled_from(standard_threads())
parallel_threads = st.sampled_from([t for t in standard_threads() if t.series is not Series.NPT])
sixty_degree_threads = st.sampled_from([t for t in standard_threads() if not t.series.is_pipe])


@st.composite
def threads(draw: st.DrawFn) -> Designation:
    """Any standard thread, in any of its classes or none."""
    thread = draw(plain_threads)
    return thread.of_class(draw(st.sampled_from([None, *thread.series.classes])))
