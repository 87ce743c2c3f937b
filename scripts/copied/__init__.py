"""What scripts/copies is tested with."""
