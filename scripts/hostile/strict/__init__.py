"""Hostile names through the whole program, and strict readers of what comes out."""
