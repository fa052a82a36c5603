"""Designations: read as people type them, written as standards do."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopfloor.core.errors import InputError
from shopfloor.core.threads.designations import format_designation, parse, suggest, with_class
from shopfloor.core.threads.series import Designation
from shopfloor.core.threads.text import standard_threads
from tests.core.threads.strategies import threads

AS_TYPED = {
    "1/2-13 UNC": "1/2-13 UNC", "1/2-13": "1/2-13 UNC", ".250-20": "1/4-20 UNC", "#10-32 UNF-2B": "#10-32 UNF-2B",
    "10-32": "#10-32 UNF", "3/8-16": "3/8-16 UNC", "0-80": "#0-80 UNF", "M8": "M8", "M8x1": "M8x1",
    "M10×1.25-6H": "M10x1.25-6H", "G 1/4": "G 1/4",
    "1/8-27 NPT": "1/8-27 NPT", "m8 X 1.25": "M8", "M8-1.25": "M8", "1/8-27-NPT": "1/8-27 NPT",
    "1 1/8-7": "1 1/8-7 UNC", "1-1/8-7": "1 1/8-7 UNC", "1⅛-7": "1 1/8-7 UNC", "⅜-16": "3/8-16 UNC", "1-8": "1-8 UNC",
    "No. 10-32": "#10-32 UNF", "# 10 - 32": "#10-32 UNF", "3/8–16unc 2b": "3/8-16 UNC-2B", '1/2"-13': "1/2-13 UNC",
    ".313-18": "5/16-18 UNC", ".190-32": "#10-32 UNF", "1 1/4-8 8-UN": "1 1/4-8 UN", "1 1/4-8": "1 1/4-8 UN",
    "2-4 1/2": "2-4.5 UNC", "1-11 1/2 npt": "1-11.5 NPT", "NPT 1/8": "1/8-27 NPT", "g1/4": "G 1/4", "1/4 BSPP": "G 1/4",
    "M10x1,25": "M10x1.25", "12-24": "#12-24 UNC", "4-40": "#4-40 UNC", "4-4": "4-4 UNC", "3/8-32": "3/8-32 UNEF",
}  # fmt: skip

REFUSED = {
    "3/8-17": "3/8-16 UNC or 3/8-24 UNF", "M8x9": "M8, M8x1 or M8x0.75", "half inch": "1/2-13 UNC or 1/2-20 UNF",
    "": "write it like 3/8-16 UNC", "nonsense": "write it like 3/8-16 UNC", "1/2": "1/2-13 UNC or 1/2-20 UNF",
    "#10": "#10-24 UNC or #10-32 UNF", "8 mm": "M8 or M8x1", "M13": "M12, M14 or M11", "3/8-16 UNF": "3/8-16 UNC",
    "3/8-16-2A": "write 2B or 3B", "3/8-16-6H": "write 2B or 3B", "M8-6g": "write 5H, 6H or 7H", "G 1/5": "G 1/4",
    "1/8-28 NPT": "1/8-27 NPT", "x" * 999: "too long", "1/0-3": "#0-80 UNF",
}  # fmt: skip


@pytest.mark.parametrize(("typed", "written"), AS_TYPED.items())
def test_as_people_type_them(typed: str, written: str) -> None:
    """However it is typed, the standard thread is found."""
    assert written == parse(typed).text


@pytest.mark.parametrize(("typed", "right"), REFUSED.items())
def test_what_is_refused_names_what_would_be_right(typed: str, right: str) -> None:
    """An error carries the nearest valid choices."""
    with pytest.raises(InputError) as error:
        parse(typed)
    assert right in str(error.value)


@given(threads())
def test_reading_undoes_writing(thread: Designation) -> None:
    """parse(format(x)) is x, in small letters too."""
    assert thread == parse(format_designation(thread)) == parse(thread.text.lower())


def test_no_two_threads_are_written_alike() -> None:
    """Each standard thread has a name of its own."""
    assert len(standard_threads()) == len({thread.text for thread in standard_threads()})


@given(st.text(max_size=80) | st.text("0123456789/#-.xMGNPTU ½", max_size=14))
def test_any_text_is_read_or_told_what_is_right(text: str) -> None:
    """Nonsense gives a problem with a remedy, never anything else."""
    try:
        told = [parse(text).text]
    except InputError as error:
        told = [part for problem in error.problems for part in (problem.what, problem.remedy)]
    assert all(told)


@pytest.mark.parametrize(
    ("typed", "first"),
    [("3/8", "3/8-16 UNC"), ("3/8-2", "3/8-24 UNF"), ("m8x", "M8"), ("8x1", "M8x1"), ("#1", "#1-64 UNC"),
     ("10", "#10-24 UNC"), (".25", "1/4-20 UNC"),
     ("g 1/4", "G 1/4"), ("1/8n", "1/8-27 NPT"), ("1 1", "1 1/8-7 UNC"), ("3/8-17", "3/8-16 UNC")],
)  # fmt: skip
def test_typing_aid(typed: str, first: str) -> None:
    """What a person types is completed, best guess first."""
    assert first == suggest(typed)[0]


@given(threads(), st.integers(1, 20))
def test_the_aid_finds_each_thread_while_it_is_typed(thread: Designation, most: int) -> None:
    """The whole name suggests the thread itself; never more than asked for, all of them valid."""
    offered = suggest(thread.basic_text, most)
    assert len(offered) <= most
    assert thread.basic_text in suggest(thread.basic_text, 20)
    assert offered == [parse(name).text for name in offered]


@given(st.text(max_size=80))
def test_the_aid_takes_any_text(text: str) -> None:
    """Whatever stands in the field, there are at most eight suggestions."""
    assert len(suggest(text)) <= 8
    assert [] == suggest("")


def test_a_class_is_given_apart() -> None:
    """As on the command line: in small letters, or none."""
    thread = parse("3/8-16 UNC-3B")
    assert ("3/8-16 UNC-2B", "3/8-16 UNC") == (with_class(thread, "2b").text, with_class(thread, None).text)
