//! What the map's silence means: towns drawn here, and real extracts of which a part is taken away.
mod small;
mod thinned;
