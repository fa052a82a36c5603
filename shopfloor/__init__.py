"""A tablet-friendly shop-floor log and tap-life tracker."""

__version__ = "0.4.0"
