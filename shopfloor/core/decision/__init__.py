"""When to replace a tap, and how likely it is to fail before."""
