from flask import Blueprint

blueprint = Blueprint("crib", __name__, url_prefix="/crib")


@blueprint.get("/")
def board() -> str:
    return ""
