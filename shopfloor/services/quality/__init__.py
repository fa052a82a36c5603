"""Why taps break, how long they last, what happened to the parts."""
