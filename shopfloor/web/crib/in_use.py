"""The board of taps in service."""

from __future__ import annotations

from flask import render_template, request

from shopfloor.services.board import Order
from shopfloor.services.board import board as find_board
from shopfloor.services.stock import Stand, order_list
from shopfloor.web.context import work
from shopfloor.web.crib.blueprint import blueprint
from shopfloor.web.crib.words import board_line, wear_bar


@blueprint.get("/")
def board() -> str:
    """Which taps are due, and which tap types to order."""
    station, order = request.args.get("station") or None, request.args.get("sort") or None
    found = find_board(work(), station, order)
    return render_template(
        "crib/board.html",
        board=found,
        line=board_line(found),
        bars={tap.code: wear_bar(tap) for tap in found.taps},
        orders=order_list(work()).standing(Stand.ORDER),
        station=station,
        order=order or Order.RISK.value,
        sorts=Order.choices(),
    )
