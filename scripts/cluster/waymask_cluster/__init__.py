"""Builds of waymask on many machines, driven by Ray."""
