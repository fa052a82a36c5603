"""Standard threads: read, written, measured, drilled for; and threads found within other text.

What nearly everybody needs of it, the size and pitch that a text names, is at hand here.
"""

from shopfloor.core.threads.within_text import (
    ThreadSize,
    find_thread,
    major_diameter_mm,
    read_thread,
    same_thread,
    thread_key,
)

__all__ = ["ThreadSize", "find_thread", "major_diameter_mm", "read_thread", "same_thread", "thread_key"]
