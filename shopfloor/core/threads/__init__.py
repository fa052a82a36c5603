"""Standard threads: reading, writing, dimensions, tap drills, and threads found within other text.

The size and pitch that a text names, which nearly every caller needs, can be imported from here.
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
