"""The board of taps in service."""

from __future__ import annotations

from flask import render_template, request

from shopfloor.services.crib.board import Order
from shopfloor.services.crib.board import board as find_board
from shopfloor.services.crib.orders import Stand, order_list
from shopfloor.web.context import work
from shopfloor.web.crib.blueprint import blueprint
from shopfloor.web.crib.words import board_line


@blueprint.get("/")
def board() -> str:
    """Which taps are due, and which tap types to order."""
    station, order = request.args.get("station") or None, request.args.get("sort") or None
    found = find_board(work(), station, order)
    shelves = order_list(work())
    return render_template(
        "crib/board.html",
        board=found,
        line=board_line(found),
        orders=shelves.standing(Stand.ORDER),
        uncounted=len(shelves.standing(Stand.COUNT)),
        station=station,
        stations=[(code, code) for code in found.stations],
        order=order or Order.RISK.value,
        sorts=Order.choices(),
    )
