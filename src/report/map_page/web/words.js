// Figures as people read them, in the style of the other answers.

/** `0.4 s`, `32 s`, `15 min 21 s`, `1 h 05 min`: below a second with a decimal, else as the lists do. */
function spokenSeconds(seconds) {
  if (seconds < 0.95) return `${seconds.toFixed(1)} s`;
  const s = Math.round(seconds);
  if (s < 100) return `${s} s`;
  if (s < 3600) return s % 60 ? `${Math.floor(s / 60)} min ${String(s % 60).padStart(2, "0")} s` : `${s / 60} min`;
  return `${Math.floor(s / 3600)} h ${String(Math.floor((s % 3600) / 60)).padStart(2, "0")} min`;
}

/** `850 m`, `1.2 km`. */
function spokenMetres(metres) {
  return metres < 999.5 ? `${Math.round(metres)} m` : `${(metres / 1000).toFixed(1)} km`;
}

const percent = (share) => (share > 0 && share < 0.01 ? "below 1 %" : `${Math.round(share * 100)} %`);

/** Bearing from a place to another, degrees clockwise from north. */
function bearing(a, b) {
  const rad = Math.PI / 180;
  const x = (b[0] - a[0]) * Math.cos(((a[1] + b[1]) / 2) * rad);
  return (Math.atan2(x, b[1] - a[1]) / rad + 360) % 360;
}

/** `north-east`, by the winds of the page. */
function wind(winds, degrees) {
  return winds[Math.round(degrees / 45) % 8];
}

/** Text as it is looked for: without case and marks. */
function plain(text) {
  return text.normalize("NFKD").replace(/\p{M}/gu, "").toLowerCase();
}

/** An element with attributes and children; texts are text, never markup. */
function element(name, attributes, ...children) {
  const made = document.createElement(name);
  for (const [key, value] of Object.entries(attributes ?? {})) {
    if (value === false || value === undefined || value === null) continue;
    if (key.startsWith("on")) made.addEventListener(key.slice(2), value);
    else made.setAttribute(key, value === true ? "" : value);
  }
  for (const child of children.flat()) {
    if (child || child === 0) made.append(child);
  }
  return made;
}
