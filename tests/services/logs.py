"""Logs as files that people bring along."""

from __future__ import annotations

HEADING = "when,tap,tap type,material,rpm,holes,how the tap ended"
LOG = f"""{HEADING}
2026-05-04,A1,1/2-13 spiral point,mild steel,250,48,good
2026-05-04,A1,1/2-13 spiral point,mild steel,250,48,good
2026-05-05,A1,1/2-13 spiral point,mild steel,250,12,broken
2026-05-05,A2,M8 forming,aluminium,400,30,still good
"""
