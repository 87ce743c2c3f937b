//! A sentence with its unit for every column, and its limits.
use super::about_file::{BUILD_RECORD, LAYER_STYLES};
use super::backdrop::{GROUND_AREAS, GROUND_LINES, NAMES, PLACES};
use super::limits::{
    BEARING, CAUSE, CLEARANCE, CLIMB, COVER_LENGTH, EDGE_LENGTH, EDGE_TIME, END, EVIDENCE, FREE, HIGHWAY, KEEPS,
    KEEPS_FROM, LANE_COUNT, OF_BUILDING, OF_CANOPY, OF_TERRAIN, OSM_TYPE, OVERHANG, OVERHEAD, PANEL_DISTANCE, PER_10KM,
    PER_DRIVE, PLACE, RATED_BY, RATING, RATING_NAME, ROAD_ACCESS, ROAD_DISTANCE, ROOFED, ROOFED_FROM, ROW_ID,
    SEGMENT_LENGTH, SEGMENT_TIME, SHARE, SPEED, STANDS_ON, STATIONS, STOP_ACCESS, STOP_KIND, Told, UNDERSIDE,
    VALUE_FROM, WIDTH,
};

/// Columns that tables of rows share.
pub(crate) const SHARED: &[Told] = &[
    ("fid", FREE, "Key of the row in this file. Conversions drop or renumber it: use the table's own id instead"),
    ("geom", FREE, "Geometry, WGS 84 longitude and latitude, degrees"),
];

/// Columns by table.
pub const TABLES: &[(&str, &[Told])] = &[
    ("segments", SEGMENTS),
    ("edges", EDGES),
    ("nodes", NODES),
    ("way_nodes", WAY_NODES),
    ("overheads", OVERHEADS),
    ("lanes", LANES),
    ("runs", RUNS),
    ("masks", MASKS),
    ("end_masks", END_MASKS),
    ("stops", STOPS),
    ("outages", OUTAGES),
    ("places", PLACES),
    ("ground", GROUND_AREAS),
    ("ground_lines", GROUND_LINES),
    ("names", NAMES),
    ("build_record", BUILD_RECORD),
    ("layer_styles", LAYER_STYLES),
];

const SEGMENTS: &[Told] = &[
    ("segment_id", ROW_ID, "Id of the segment, which other tables refer to; every build gives new ones"),
    ("way_id", FREE, "Id of the way in the map; together with part, the key that stays the same from build to build"),
    ("part", PLACE, "Number of the segment within its way, from 0"),
    ("name", FREE, "Name of the road; empty where the map has none"),
    ("ref", FREE, "Number of the road, such as M 1; empty where the map has none"),
    ("highway", HIGHWAY, "Class of the road as in the map, with _link for ramps; or ferry or shuttle_train"),
    ("lanes", LANE_COUNT, "Number of lanes, both directions together"),
    ("lanes_from", VALUE_FROM, "Where lanes came from: a tag, the country's default or the default of the class"),
    ("width_m", WIDTH, "Width of the carriageway from kerb to kerb, metres"),
    ("width_from", VALUE_FROM, "Where width_m came from: a tag, the country's default or the default of the class"),
    ("speed_kmh", SPEED, "Speed at which outages were computed, that of the slower direction, km/h"),
    (
        "speed_from",
        VALUE_FROM,
        "Where speed_kmh came from: a tag, the country, its limit in built-up places (or an assumed one), the radius \
         of a roundabout, the class, or the vehicle's speed uphill",
    ),
    ("keeps", KEEPS, "Side that traffic keeps to, the same along the whole way"),
    (
        "keeps_from",
        KEEPS_FROM,
        "Where keeps came from: a tag, the profile, the country; default means right, where nothing gives the side",
    ),
    ("country", FREE, "ISO 3166-1 code of the way's country; empty where it is not known"),
    ("length_m", SEGMENT_LENGTH, "Length, metres"),
    ("rating", RATING, "Rating of the worse direction: 0 steady, 1 blips, 2 gaps, 3 drops, 4 dark"),
    ("rating_best", RATING, "Rating with what is assumed about the roadside at the favourable end of its range"),
    (
        "rating_worst",
        RATING,
        "Rating with what is assumed about the roadside at the unfavourable end of its range; empty where a cause \
         could not be known",
    ),
    (
        "rated_by",
        RATED_BY,
        "What decides the rating: outage (outage_p95_s), share (time without a link, which makes it one step worse, or dark above one half), none where steady",
    ),
    (
        "open_share",
        SHARE,
        "Share of the usable sky that is open, weighted by where usable satellites are expected, mean over the segment, 0 to 1",
    ),
    ("open_share_min", SHARE, "Lowest open share of any station on the segment, 0 to 1"),
    ("outage_share", SHARE, "Expected share of driving time without a link, 0 to 1"),
    ("outage_share_best", SHARE, "outage_share under the assumptions of rating_best, 0 to 1"),
    (
        "outage_share_worst",
        SHARE,
        "outage_share under the assumptions of rating_worst, 0 to 1; empty where a cause could not be known",
    ),
    ("outages_per_10km", PER_10KM, "Outages that begin on the segment, per 10 km of road"),
    (
        "outage_p50_s",
        EDGE_TIME,
        "Median over simulated drives of the longest outage that counts on the segment, seconds",
    ),
    (
        "outage_p95_s",
        EDGE_TIME,
        "95th percentile over simulated drives of the longest outage that counts on the segment, seconds",
    ),
    (
        "longest_outage_s",
        EDGE_TIME,
        "Mean over simulated drives of the longest outage that counts on the segment, seconds",
    ),
    ("blocked_cover", SHARE, "Share of the usable sky hidden by tunnels, galleries and roofs, 0 to 1"),
    ("blocked_deck", SHARE, "Share of the usable sky hidden by bridges overhead, 0 to 1"),
    ("blocked_building", SHARE, "Share of the usable sky hidden by buildings, walls and cliffs, 0 to 1"),
    ("blocked_terrain", SHARE, "Share of the usable sky hidden by terrain, 0 to 1"),
    ("blocked_canopy", SHARE, "Share of the usable sky hidden by trees, 0 to 1"),
    (
        "main_cause",
        CAUSE,
        "Cause that hides the largest share of the usable sky: cover (tunnel or roof), deck (bridge overhead), \
         building, terrain, canopy (trees), boarded (on a ferry or train), satellites (few satellites); none where a \
         steady road has less than one per cent hidden in all",
    ),
    ("maxheight_m", CLEARANCE, "Lowest posted clearance, metres; empty where none is posted"),
    (
        "overhang",
        FREE,
        "Crowns close over the road, or a posted clearance is below the height of the profile's vehicle",
    ),
    ("overhang_reason", OVERHANG, "Why there is an overhang"),
    (
        "evidence_terrain",
        OF_TERRAIN,
        "What the figure for terrain is based on: raster, coarse (pixels that may hide a rock face), part (not known \
         everywhere), none; map for ferries",
    ),
    ("terrain_coarse_share", SHARE, "Share of its stations where pixels beside the road may hide a rock face, 0 to 1"),
    ("terrain_unknown_share", SHARE, "Share of the usable sky that ground of unknown height could hide, 0 to 1"),
    (
        "evidence_canopy",
        OF_CANOPY,
        "What the figure for trees is based on: raster, tag or default heights; map where the map shows nothing that \
         blocks; unknown where nobody has mapped trees, and unknown is not clear",
    ),
    ("evidence_building", OF_BUILDING, "What the figure for buildings is based on, in the same words"),
    (
        "evidence",
        EVIDENCE,
        "What the rating is based on: data; default where assumed heights block, or may block, sky that counts; \
         unknown where a cause could not be known",
    ),
    ("rating_name", RATING_NAME, "Name of the rating"),
    (
        "edge_forward",
        ROW_ID,
        "edge_id that drives the segment in node order of the way; empty where it is not driven in this direction",
    ),
    (
        "edge_backward",
        ROW_ID,
        "edge_id that drives the segment against node order; empty where it is not driven in this direction",
    ),
    (
        "rating_forward",
        RATING,
        "Rating in node order of the way; like all columns of a direction, empty where it is not driven",
    ),
    ("rating_backward", RATING, "Rating against node order"),
    ("rating_best_forward", RATING, "rating_best in node order"),
    ("rating_best_backward", RATING, "rating_best against node order"),
    ("rating_worst_forward", RATING, "rating_worst in node order; empty where a cause could not be known"),
    ("rating_worst_backward", RATING, "rating_worst against node order; empty where a cause could not be known"),
    ("outage_share_best_forward", SHARE, "outage_share_best in node order, 0 to 1"),
    ("outage_share_best_backward", SHARE, "outage_share_best against node order, 0 to 1"),
    ("outage_share_worst_forward", SHARE, "outage_share_worst in node order, 0 to 1"),
    ("outage_share_worst_backward", SHARE, "outage_share_worst against node order, 0 to 1"),
    ("time_forward_s", SEGMENT_TIME, "Driving time in node order, seconds"),
    ("time_backward_s", SEGMENT_TIME, "Driving time against node order, seconds"),
    ("outage_forward_s", SEGMENT_TIME, "Expected time without a link in node order, seconds"),
    ("outage_backward_s", SEGMENT_TIME, "Expected time without a link against node order, seconds"),
    ("outage_p95_forward_s", EDGE_TIME, "outage_p95_s in node order, seconds"),
    ("outage_p95_backward_s", EDGE_TIME, "outage_p95_s against node order, seconds"),
    (
        "beyond_blips_forward",
        PER_DRIVE,
        "Expected outages per drive that begin here in node order and last longer than the profile's edge of blips \
         (2 s)",
    ),
    ("beyond_blips_backward", PER_DRIVE, "The same against node order"),
    (
        "beyond_gaps_forward",
        PER_DRIVE,
        "Expected outages per drive that begin here in node order and last longer than the profile's edge of gaps \
         (5 s)",
    ),
    ("beyond_gaps_backward", PER_DRIVE, "The same against node order"),
    (
        "beyond_drops_forward",
        PER_DRIVE,
        "Expected outages per drive that begin here in node order and last longer than the profile's edge of drops \
         (30 s)",
    ),
    ("beyond_drops_backward", PER_DRIVE, "The same against node order"),
    (
        "running_blips_forward",
        SHARE,
        "Share of drives in which, in node order, an outage is running where the segment begins and goes on longer \
         than the edge of blips (2 s)",
    ),
    ("running_blips_backward", SHARE, "The same against node order"),
    ("running_gaps_forward", SHARE, "The same in node order, for the edge of gaps (5 s)"),
    ("running_gaps_backward", SHARE, "The same against node order"),
    ("running_drops_forward", SHARE, "The same in node order, for the edge of drops (30 s)"),
    ("running_drops_backward", SHARE, "The same against node order"),
    ("main_cause_forward", CAUSE, "main_cause in node order"),
    ("main_cause_backward", CAUSE, "main_cause against node order"),
];

const EDGES: &[Told] = &[
    ("edge_id", ROW_ID, "Id of the edge, one direction of travel between two junctions; every build gives new ones"),
    ("from_node", FREE, "node_id where it begins"),
    ("to_node", FREE, "node_id where it ends"),
    ("way_id", FREE, "Id of the way in the map"),
    ("forward", FREE, "Whether it is driven in node order of the way"),
    ("length_m", EDGE_LENGTH, "Length, metres"),
    ("time_s", EDGE_TIME, "Driving time, seconds"),
    ("outage_s", EDGE_TIME, "Expected time without a link, seconds; adds up along a path"),
    ("longest_outage_s", EDGE_TIME, "Expected longest outage, seconds"),
    ("rating", RATING, "Worst rating of its segments in this direction: 0 steady to 4 dark"),
    ("highway", HIGHWAY, "Class of the road as in the map, with _link for ramps; or ferry or shuttle_train"),
    (
        "access",
        ROAD_ACCESS,
        "Who may drive there: everybody (open), those with business there (destination), some (private)",
    ),
    (
        "local",
        FREE,
        "Whether it serves only the ends of a drive: it is not open, or can be reached only over roads that are not",
    ),
    ("unpaved", FREE, "Whether its surface is loose"),
    ("unpaved_from", VALUE_FROM, "Where unpaved came from: a tag, or the default of the class"),
    ("maxheight_m", CLEARANCE, "Lowest posted clearance, metres; empty where none is posted"),
];

const NODES: &[Told] = &[("node_id", FREE, "Id of the node in the map, to which from_node and to_node of edges refer")];

const WAY_NODES: &[Told] = &[
    ("segment_id", ROW_ID, "Segment along which the nodes lie"),
    ("packed", FREE, "Ids of the nodes of the map at the vertices of its line, packed"),
];

const OVERHEADS: &[Told] = &[
    ("overhead_id", ROW_ID, "Id of the row; every build gives new ones"),
    ("segment_id", ROW_ID, "Segment it stands over"),
    ("kind", OVERHEAD, "What stands overhead"),
    ("osm_id", FREE, "Id in the map of what stands overhead"),
    ("name", FREE, "Its name; empty where the map has none"),
    ("deck_width_m", COVER_LENGTH, "Width across the bridge; for tunnels and roofs the length along the road; metres"),
    ("covered_m", COVER_LENGTH, "Length of road under it, metres"),
    ("underside_m", UNDERSIDE, "Underside above the road, metres"),
    ("underside_from", VALUE_FROM, "Where underside_m came from: a tag, elevation, or the default of the kind"),
    ("maxheight_m", CLEARANCE, "Posted clearance of the road below, metres; empty where none is posted"),
    (
        "half_shadow_s",
        EDGE_TIME,
        "Time, at the speed of the segment, for which this alone hides more than half of the usable sky, seconds",
    ),
];

const LANES: &[Told] = &[
    ("lane_id", ROW_ID, "Id of the lane: twice the segment's id, less one in node order"),
    ("segment_id", ROW_ID, "Segment it runs along"),
    ("forward", FREE, "Whether it is driven in node order of the way"),
    ("stroke", PLACE, "Number of the stroke, the segments that are driven in one go"),
    ("step", PLACE, "Position in the stroke, from 0"),
    ("road_kmh", SPEED, "Speed of the road before the profile changes it, km/h"),
    ("road_kmh_from", VALUE_FROM, "Where road_kmh came from: a tag, the country's default or the default of the class"),
    ("climb", CLIMB, "Rise over run in this direction; empty without elevation"),
    ("overheads", FREE, "What is over the lane, packed for rating again; empty where there is nothing"),
    ("outage_from", ROW_ID, "Lane that the outage through this one begins with; empty where there is none"),
];

const RUNS: &[Told] = &[
    ("run_id", ROW_ID, "Id of the row; every build gives new ones"),
    ("stroke", PLACE, "Number of the stroke, as in lanes"),
    (
        "nth",
        FREE,
        "Where the lane is driven: -1 just before the first step of the stroke, 1 just after the last, and so on",
    ),
    ("lane_id", ROW_ID, "Lane driven there; it is a step of another stroke"),
];

const MASKS: &[Told] = &[
    ("mask_id", ROW_ID, "Id of the row, the same as that of its lane"),
    ("segment_id", ROW_ID, "Segment the sky is seen from"),
    ("forward", FREE, "Whether the lane is driven in node order of the way"),
    ("stations", STATIONS, "Number of sky masks, evenly spaced along the segment"),
    ("packed", FREE, "Sky masks, packed for rating again"),
];

const END_MASKS: &[Told] = &[
    ("end_mask_id", ROW_ID, "Id of the row: twice its lane's id, less one at the favourable end"),
    ("segment_id", ROW_ID, "Segment the sky is seen from"),
    ("forward", FREE, "Whether the lane is driven in node order of the way"),
    ("at", END, "Which end of the range of what is assumed about the roadside: best or worst; likely is in masks"),
    ("stations", STATIONS, "Number of sky masks, evenly spaced along the segment"),
    ("packed", FREE, "Sky masks, packed for rating again; only where they differ from those in masks"),
];

const STOPS: &[Told] = &[
    ("stop_id", ROW_ID, "Id of the place to stop; every build gives new ones"),
    ("osm_type", OSM_TYPE, "Kind of object in the map"),
    ("osm_id", FREE, "Its id in the map"),
    ("kind", STOP_KIND, "Kind of place"),
    ("name", FREE, "Name of the place; empty where the map has none"),
    ("access", STOP_ACCESS, "Who may stop there"),
    (
        "roofed",
        ROOFED,
        "Whether the vehicle stands under a roof; unknown at a fuel station where the map does not say, and unknown \
         is not open",
    ),
    (
        "roofed_from",
        ROOFED_FROM,
        "Where roofed came from: a tag of the place, a roof drawn on the map, a kind of parking that has one, the \
         place's outline where roofs are drawn, or none",
    ),
    (
        "stands_on",
        STANDS_ON,
        "What the vehicle stands on: aisle is a service road of the place, ground its free ground, point the \
         position of the place on the map",
    ),
    (
        "open_share",
        SHARE,
        "Open share of the sky for a level panel on the vehicle, ignoring what the vehicle itself hides, 0 to 1",
    ),
    ("main_cause", CAUSE, "What hides most of the rest there, in the words of main_cause of segments"),
    ("segment_id", ROW_ID, "Nearest road segment"),
    ("road", FREE, "Name of that road, or its class if it has none"),
    (
        "along_m",
        SEGMENT_LENGTH,
        "Distance along the segment, in node order, to its point nearest to the vehicle, metres",
    ),
    ("road_distance_m", ROAD_DISTANCE, "Distance from there to the vehicle, metres"),
    (
        "best_distance_m",
        PANEL_DISTANCE,
        "Distance from the vehicle to the best place for the panel within reach, metres; 0 leaves it on the vehicle",
    ),
    ("best_bearing_deg", BEARING, "Bearing of that place from the vehicle, degrees clockwise from true north"),
    ("best_open_share", SHARE, "Open share of the sky for a level panel there, 0 to 1"),
    ("gain", SHARE, "best_open_share minus open_share"),
    (
        "places",
        FREE,
        "Places worth a longer cable: for each, metres, bearing in degrees and open share, separated by ;",
    ),
    ("masks", FREE, "Sky masks of these places, packed; the risk of meetings held there is computed from them"),
];

const OUTAGES: &[Told] = &[
    ("outage_id", ROW_ID, "Id of the outage; every build gives new ones"),
    ("stroke", PLACE, "Number of the stroke, the segments that are driven in one go, as in lanes"),
    ("step_from", PLACE, "Its first step in the stroke"),
    ("step_to", PLACE, "Its last step; counted on where the road goes on beyond the end of the stroke"),
    ("segment_from", ROW_ID, "First segment in the direction driven"),
    ("segment_to", ROW_ID, "Last segment"),
    ("forward", FREE, "Whether the first segment is driven in node order of its way"),
    ("cause", CAUSE, "What causes most of the time without a link there, in the words of main_cause of segments"),
    ("length_m", EDGE_LENGTH, "Length of its segments, metres"),
    ("time_s", EDGE_TIME, "Driving time through them, seconds"),
    (
        "outages",
        PER_DRIVE,
        "Expected outages per drive: those that begin there and those that continue from the road before",
    ),
    ("outage_s", EDGE_TIME, "Expected seconds without a link there"),
    ("outage_p95_s", EDGE_TIME, "95th percentile over simulated drives of the longest outage there, seconds"),
];
