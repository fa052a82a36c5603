from flask import Blueprint

blueprint = Blueprint("operator", __name__, url_prefix="/operator")


@blueprint.get("/")
def start() -> str:
    return ""
