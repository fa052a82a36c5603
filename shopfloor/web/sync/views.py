from flask import Blueprint

blueprint = Blueprint("sync", __name__, url_prefix="/sync")
