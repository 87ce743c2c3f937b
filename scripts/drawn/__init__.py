"""The pictures of README.md: drawn from the layer and the brief of the demo; scripts/pictures runs this."""
