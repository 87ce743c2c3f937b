"""Damages every kind of file that the program reads, and looks at what the program makes of it."""
