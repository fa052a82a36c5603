from flask import Blueprint

blueprint = Blueprint("quality", __name__, url_prefix="/quality")


@blueprint.get("/")
def board() -> str:
    return ""
