"""Map pages as a browser shows them, compared with the layer they are made from."""
