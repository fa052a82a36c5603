"""The operator's pages: choose who, where and what, log a batch."""
