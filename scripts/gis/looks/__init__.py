"""How a layer looks in a GIS viewer: opened as a user opens it, drawn on screen and on paper, measured."""
