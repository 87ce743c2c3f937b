// What is drawn, from the ground up: water, roads by group and rating, outages, the drive, places to stop, names.

/** The rating of a road whose worst is not known, as the layers of the map take it. */
const UNKNOWN = 5;
const GREY = "#8c8c8c";
/** Groups of roads, the least first, so that greater ones lie on top. */
const GROUPS_UPWARDS = [3, 2, 1, 0];
const BOARDED = 4;
/** Scales from which tracks, dashes of bad ratings and dots of what is not known are drawn: farther out they fill the lines. */
const TRACKS_FROM = 60000;
const DASHES_FROM = 150000;
const DOTS_FROM = 60000;

/** Features of all roads. */
function roadFeatures(data) {
  const { roads, looks } = data;
  return data.lines.roads.map((coordinates, i) => ({
    type: "Feature",
    geometry: { type: "LineString", coordinates },
    properties: {
      i,
      g: looks.group_of_class[roads.class[i]],
      f: roads.class[i] === data.words.codes.ferry ? 1 : 0,
      likely: roads.rating[i],
      best: roads.rating_best[i],
      worst: roads.rating_worst[i] < 0 ? UNKNOWN : roads.rating_worst[i],
      c: roads.cause[i],
      e: roads.evidence[i],
      h: roads.covered[i],
      n: straight(data.text(roads.name[i]) || data.text(roads.reference[i])),
      r: straight(data.text(roads.reference[i])),
    },
  }));
}

/** A text that the library sets right; others are left out along roads. */
const straight = (text) => (SHAPED.test(text) ? "" : text);

function lineFeature(coordinates, properties) {
  return { type: "Feature", geometry: { type: "LineString", coordinates }, properties: properties ?? {} };
}
function pointFeature(coordinates, properties) {
  return { type: "Feature", geometry: { type: "Point", coordinates }, properties: properties ?? {} };
}
const collected = (features) => ({ type: "FeatureCollection", features });

/** Where the map gets things from. Everything is in the page. */
function sourcesOf(data) {
  const geojson = (features, more) => ({ type: "geojson", data: collected(features), ...more });
  const water = data.water.map((coordinates) => ({ type: "Feature", geometry: { type: "Polygon", coordinates }, properties: {} }));
  const outages = data.lines.outages.flatMap((line, i) => [
    lineFeature(line, { n: i + 1 }),
    pointFeature(along(line, lengthOf(line) / 2), { n: i + 1 }),
  ]);
  const stops = data.lines.stops.map((at, i) =>
    pointFeature(at, { i, k: data.stops.kind[i], roof: data.stops.roof[i], a: data.stops.access[i], icon: stopIcon(data, i) }),
  );
  const places = data.lines.places.map((at, i) => pointFeature(at, namedFeature(data, i)));
  const pieces = data.lines.pieces.map((line, i) =>
    lineFeature(line, {
      likely: data.trip.likely[i],
      best: data.trip.best[i],
      worst: data.trip.worst[i] < 0 ? UNKNOWN : data.trip.worst[i],
      e: data.trip.evidence[i],
    }),
  );
  return {
    water: geojson(water, { maxzoom: 12 }),
    shores: geojson(data.lines.shores.map((line, i) => lineFeature(line, { kind: data.shores[i] })), { maxzoom: 12 }),
    roads: geojson(roadFeatures(data), { maxzoom: 13, buffer: 32 }),
    outages: geojson(outages),
    stops: geojson(stops),
    places: geojson(places),
    drive: geojson(pieces),
    gaps: geojson(data.lines.gaps.map((line) => lineFeature(line))),
    choice: geojson([]),
    cursor: geojson([]),
  };
}

/** The name of a place as letters, or as a picture where the library would set them wrong. */
function namedFeature(data, i) {
  const name = data.text(data.places.name[i]);
  const rank = data.places.rank[i];
  return SHAPED.test(name) ? { name: "", icon: `name:${name}`, rank } : { name, rank };
}

/** All layers for a state: `night`, `mode` (likely, best, worst), and what is filtered. */
function layersOf(data, state) {
  const ground = GROUNDS[state.night ? "night" : "day"];
  const { looks } = data;
  const lat = (data.around_deg[1] + data.around_deg[3]) / 2;
  const from = (scale) => Math.max(0, Math.min(18, zoomOf(scale, lat)));
  const colours = state.night ? looks.night : looks.day;
  const rating = ["get", state.mode];
  const colour = ["match", rating, ...colours.flatMap((c, i) => [i, c]), GREY];
  const dim = state.trip ? 0.45 : 1;
  const width = (times, more = 0) =>
    widthByZoom(looks, lat, (scale) => {
      const px = (mm) => mm * PX_PER_MM * times * scale;
      return ["+", more, ["match", rating, ...looks.width_mm.flatMap((mm, i) => [i, px(mm)]), px(0.7)]];
    });
  const rim = (px) => ["interpolate", ["linear"], ["zoom"], from(600000), px * 0.55, from(100000), px];
  const label = (layout, paint) => ({
    layout: { "text-font": ["Liberation Sans", "Arial"], ...layout },
    paint: { "text-color": ground.ink, "text-halo-color": ground.land, "text-halo-width": 1.6, ...paint },
  });
  const layers = [
    { id: "land", type: "background", paint: { "background-color": ground.land } },
    { id: "water", type: "fill", source: "water", paint: { "fill-color": ground.water, "fill-antialias": true } },
    // The side of the sea: water is on the right of a coast.
    {
      id: "band",
      type: "line",
      source: "shores",
      filter: ["==", ["get", "kind"], "coastline"],
      paint: { "line-color": ground.band, "line-width": 9, "line-offset": 4.5 },
    },
    {
      id: "shore",
      type: "line",
      source: "shores",
      filter: ["==", ["get", "kind"], "coastline"],
      paint: { "line-color": ground.shore, "line-width": 0.8 },
    },
    {
      id: "river",
      type: "line",
      source: "shores",
      minzoom: from(600000),
      filter: ["!=", ["get", "kind"], "coastline"],
      paint: { "line-color": ground.water, "line-width": widthByZoom(looks, lat, (times) => 1.8 * times) },
    },
  ];
  // Below the roads, at every scale: no number is without its road, and the road's own rating stays in sight.
  layers.push({
    id: "outage-rims",
    type: "line",
    source: "outages",
    filter: ["==", ["geometry-type"], "LineString"],
    layout: { "line-join": "round", "line-cap": "round", visibility: state.outages && !state.trip ? "visible" : "none" },
    paint: { "line-color": ground.ink, "line-width": rim(6.5) },
  });
  const shown = state.shown;
  for (const group of GROUPS_UPWARDS) {
    const times = looks.group_width[group];
    const road = (id, filter, paint, more, scale) => ({
      id: `${id}-${group}`,
      type: "line",
      source: "roads",
      // Tracks twice as far out as in a GIS: a page has no other map below.
      minzoom: from(Math.min(scale ?? Infinity, Math.max(TRACKS_FROM, looks.group_from_scale[group]))),
      filter: ["all", ["==", ["get", "g"], group], shown, filter],
      layout: { "line-join": "round", ...more },
      paint,
    });
    layers.push(
      road("casing", true, { "line-color": ground.casing, "line-width": width(times, 1.6), "line-opacity": dim }),
      road("road", true, { "line-color": colour, "line-width": width(times), "line-opacity": dim }, { "line-sort-key": rating, "line-cap": "round" }),
    );
    if (group < 3) {
      const dash = (id, of, dashes) => {
        const paint = { "line-color": ground.hollow, "line-width": width(times * 0.3), "line-dasharray": dashes, "line-opacity": dim };
        return road(id, ["all", ["==", rating, of], ["==", ["get", "h"], 0]], paint, {}, DASHES_FROM);
      };
      layers.push(dash("drops", 3, [5, 3]), dash("dark", 4, [1.6, 2.6]));
    }
    layers.push(
      road("hollow", ["==", ["get", "h"], 1], { "line-color": ground.hollow, "line-width": width(times * 0.45), "line-opacity": dim }),
      road(
        "dotted",
        ["==", ["get", "e"], data.words.codes.evidence_unknown],
        { "line-color": ground.ink, "line-width": 1.5, "line-dasharray": [0, 4.5], "line-opacity": dim },
        { "line-cap": "round" },
        DOTS_FROM,
      ),
    );
  }
  const boarded = (id, ferry, px, dashes) => ({
    id,
    type: "line",
    source: "roads",
    filter: ["all", ["==", ["get", "g"], BOARDED], ["==", ["get", "f"], ferry], shown],
    paint: { "line-color": colours[4], "line-width": px, "line-dasharray": dashes, "line-opacity": dim },
  });
  layers.push(boarded("ferry", 1, 1.7, [5, 3.4]), boarded("train", 0, 3.4, [1.4, 1.4]));
  layers.push(
    { id: "drive-rim", type: "line", source: "drive", layout: { "line-join": "round", "line-cap": "round" }, paint: { "line-color": ground.ink, "line-width": driveWidth(looks, rating, 4.4) } },
    {
      id: "drive",
      type: "line",
      source: "drive",
      layout: { "line-join": "round", "line-cap": "round" },
      paint: { "line-color": colour, "line-width": driveWidth(looks, rating, 2) },
    },
    {
      id: "drive-dotted",
      type: "line",
      source: "drive",
      filter: ["==", ["get", "e"], data.words.codes.evidence_unknown],
      layout: { "line-cap": "round" },
      paint: { "line-color": ground.paper, "line-width": 1.8, "line-dasharray": [0, 3] },
    },
    { id: "gaps", type: "line", source: "gaps", paint: { "line-color": ground.ink, "line-width": 7, "line-dasharray": [0.2, 0.5] } },
    { id: "choice", type: "line", source: "choice", layout: { "line-cap": "round" }, paint: { "line-color": ground.choice, "line-width": 3, "line-gap-width": 9 } },
  );
  layers.push(...labelsOf(label, from, state));
  layers.push({
    id: "cursor",
    type: "circle",
    source: "cursor",
    paint: { "circle-radius": 8, "circle-color": ground.paper, "circle-stroke-color": ground.choice, "circle-stroke-width": 4 },
  });
  return layers;
}

function driveWidth(looks, rating, more) {
  return ["+", more, ["match", rating, ...looks.width_mm.flatMap((mm, i) => [i, mm * PX_PER_MM * 1.25]), 3]];
}

/** Names and signs. What comes last is placed first. */
function labelsOf(label, from, state) {
  const near = from(30000);
  return [
    {
      id: "road-names",
      type: "symbol",
      source: "roads",
      minzoom: near,
      filter: ["all", ["!=", ["get", "n"], ""], state.shown],
      ...label({ "text-field": ["get", "n"], "symbol-placement": "line", "text-size": 12, "symbol-spacing": 320, "text-max-angle": 30 }),
    },
    {
      id: "road-numbers",
      type: "symbol",
      source: "roads",
      minzoom: from(250000),
      maxzoom: near,
      filter: ["all", ["!=", ["get", "r"], ""], ["<=", ["get", "g"], 1], state.shown],
      ...label({ "text-field": ["get", "r"], "symbol-placement": "line", "text-size": 11, "symbol-spacing": 400 }),
    },
    {
      id: "place-names",
      type: "symbol",
      source: "places",
      filter: ["<=", ["get", "rank"], ["step", ["zoom"], 1, from(700000), 3, from(160000), 5, from(50000), 9]],
      ...label({
        "text-field": ["get", "name"],
        "icon-image": ["coalesce", ["get", "icon"], ""],
        "text-size": ["match", ["get", "rank"], [0, 1], 17, [2, 3], 15, [4, 5], 13, 12],
        "symbol-sort-key": ["get", "rank"],
        "text-max-width": 8,
        "text-padding": 4,
      }),
    },
    {
      id: "stops",
      type: "symbol",
      source: "stops",
      minzoom: from(150000),
      // Fuel, rest areas, services and places to stay first; tables, views and car parks when one is near.
      filter: ["all", state.stops, ["<=", ["get", "k"], ["step", ["zoom"], 5, from(70000), 8]]],
      layout: { "icon-image": ["get", "icon"], "icon-padding": 1, "symbol-sort-key": ["+", ["get", "k"], ["*", 20, ["get", "a"]]] },
    },
    {
      id: "outage-numbers",
      type: "symbol",
      source: "outages",
      filter: ["==", ["geometry-type"], "Point"],
      layout: {
        "icon-image": ["concat", "number:", ["to-string", ["get", "n"]]],
        "symbol-sort-key": ["get", "n"],
        "icon-padding": 0,
        "icon-allow-overlap": false,
        visibility: state.outages ? "visible" : "none",
      },
    },
  ];
}
