// Figures as people read them, in the style of the other answers.

/** `0.4 s`, `32 s`, `15 min 21 s`, `1 h 05 min`: below ten seconds with a decimal, no units that would be nought. */
function spokenSeconds(seconds) {
  if (seconds < 0.05) return "0 s";
  if (seconds < 9.95) return `${seconds.toFixed(1)} s`;
  const s = Math.round(seconds);
  if (s < 100) return `${s} s`;
  if (s < 3600) return s % 60 ? `${Math.floor(s / 60)} min ${String(s % 60).padStart(2, "0")} s` : `${s / 60} min`;
  return spokenMinutes(Math.floor((s + 30) / 60));
}

/** `25 min`, `1 h 05 min`. */
function spokenMinutes(minutes) {
  const [h, min] = [Math.floor(minutes / 60), minutes % 60];
  if (!h) return `${min} min`;
  return min ? `${h} h ${String(min).padStart(2, "0")} min` : `${h} h`;
}

/** Metres in an inch, a foot and a mile (exact). */
const [INCH_M, FOOT_M, MILE_M] = [0.0254, 0.3048, 1609.344];
/** Whether lengths are told in feet and miles. */
let imperial = false;

/** Lengths of this page are told in the units it was made with. */
function tellIn(units) {
  imperial = units === "imperial";
}

/** Lengths of road: their unit, what stands before a place on a road, the figure. */
const roadUnit = () => (imperial ? "mi" : "km");
const roadPost = () => (imperial ? "mile" : "km");
const roadUnitM = () => (imperial ? MILE_M : 1000);
const ofRoad = (metres) => metres / roadUnitM();

/** `850 m`, `1.2 km`; `850 ft`, `1.2 mi`. */
function spokenMetres(metres) {
  if (metres < (imperial ? 1000 * FOOT_M : 999.5)) return spokenNear(metres);
  return `${ofRoad(metres).toFixed(1)} ${roadUnit()}`;
}

/** `35 m`, `115 ft`. */
const spokenNear = (metres) => (imperial ? `${Math.round(metres / FOOT_M)} ft` : `${Math.round(metres)} m`);

/** `km 63.3`, `mile 39.3`. */
const spokenPlace = (metres) => `${roadPost()} ${ofRoad(metres).toFixed(1)}`;

/** `6.5 m`, `21 ft`. */
const spokenWidth = (metres) => (imperial ? spokenNear(metres) : `${metres.toFixed(1)} m`);

/** `4.20 m`, `13 ft 9 in`; never rounded up. */
function spokenClearance(metres) {
  if (!imperial) return `${metres.toFixed(2)} m`;
  const inches = Math.floor(metres / INCH_M + 1e-6);
  return inches % 12 ? `${Math.floor(inches / 12)} ft ${inches % 12} in` : `${inches / 12} ft`;
}

/** `80 km/h`, `50 mph`. */
const spokenSpeed = (kmh) => (imperial ? `${Math.round((kmh * 1000) / MILE_M)} mph` : `${kmh} km/h`);

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
