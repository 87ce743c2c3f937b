// Colours and widths by day and by night. Those of ratings come with the data; the others are ours.

const GROUNDS = {
  day: {
    land: "#fbfaf6",
    water: "#d3e0e6",
    shore: "#8fa9b5",
    band: "#d3e0e6",
    ink: "#1a1a1a",
    soft: "#5a5a5a",
    casing: "#ffffff",
    paper: "#ffffff",
    hollow: "#ffffff",
    choice: "#c2410c",
  },
  night: {
    land: "#1b1d20",
    water: "#26333b",
    shore: "#4d6572",
    band: "#26333b",
    ink: "#f0ede6",
    soft: "#b5b1a8",
    casing: "#1b1d20",
    paper: "#101113",
    hollow: "#1b1d20",
    choice: "#ff9d5c",
  },
};

const PX_PER_MM = 96 / 25.4;

/** Whether the page is shown by night: by choice, else as the system says. */
function isNight() {
  const chosen = document.documentElement.dataset.theme;
  return chosen ? chosen === "night" : matchMedia("(prefers-color-scheme: dark)").matches;
}

/** The zoom at which a map at a latitude has a scale of one to `scale` (tiles of 512 pixels, 96 pixels an inch). */
function zoomOf(scale, lat) {
  const metresAtZero = (40075016.7 / 512) * Math.cos((lat * Math.PI) / 180);
  return Math.log2(metresAtZero / ((scale * 0.0254) / 96));
}

/** Pixels of a line by zoom, for a width in millimetres at scales of valleys. */
function widthByZoom(looks, lat, px) {
  const stops = [];
  // Small scales first: zoom must grow.
  const scales = [
    [2000000, 0.6],
    ...looks.width_by_scale.map(([scale, times]) => [Math.min(scale, 600000), times]).reverse(),
    [4000, 2.4],
  ];
  for (const [scale, times] of scales) stops.push(zoomOf(scale, lat), px(times));
  return ["interpolate", ["linear"], ["zoom"], ...stops];
}
