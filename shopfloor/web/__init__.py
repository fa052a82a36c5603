"""The screens: thin, they read a form, call one service and choose a page."""
