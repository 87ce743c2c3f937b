"""Parts of `prove`."""
