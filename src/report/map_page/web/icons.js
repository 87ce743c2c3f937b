// Signs drawn on the spot: numbered circles, places to stop. No picture is loaded.

/** The name of a sign for a place to stop: letter, roof, how much sky is open, private. */
function stopIcon(data, i) {
  const { stops, words } = data;
  const roof = [words.codes.no_roof, words.codes.roof_unknown].indexOf(stops.roof[i]);
  return `stop:${words.letters[stops.kind[i]]}:${roof}:${stops.sky[i]}:${stops.access[i] === words.codes.private ? 1 : 0}`;
}

/** Draws a missing sign. */
function drawIcon(map, name, ground) {
  const [kind, ...rest] = name.split(":");
  const ratio = Math.max(1, Math.min(3, Math.ceil(devicePixelRatio)));
  const side = kind === "number" ? 26 : 24;
  const canvas = document.createElement("canvas");
  canvas.height = side * ratio;
  canvas.width = (kind === "name" ? nameWidth(rest.join(":")) : side) * ratio;
  const pen = canvas.getContext("2d");
  pen.scale(ratio, ratio);
  pen.textAlign = "center";
  pen.textBaseline = "middle";
  if (kind === "number") drawNumber(pen, rest[0], ground);
  else if (kind === "stop") drawStop(pen, rest, ground);
  else if (kind === "name") drawName(pen, rest.join(":"), ground);
  else return;
  const picture = pen.getImageData(0, 0, canvas.width, canvas.height);
  if (map.hasImage(name)) map.removeImage(name);
  map.addImage(name, picture, { pixelRatio: ratio });
}

function drawNumber(pen, number, ground) {
  pen.beginPath();
  pen.arc(13, 13, 11, 0, 2 * Math.PI);
  pen.fillStyle = ground.paper;
  pen.fill();
  pen.lineWidth = 2;
  pen.strokeStyle = ground.ink;
  pen.stroke();
  pen.fillStyle = ground.ink;
  pen.font = "bold 13px system-ui, 'Liberation Sans', Arial, sans-serif";
  pen.fillText(number, 13, 13.5);
}

const NAME_FONT = "15px system-ui, 'Liberation Sans', Arial, sans-serif";

function nameWidth(name) {
  const pen = document.createElement("canvas").getContext("2d");
  pen.font = NAME_FONT;
  return Math.min(400, Math.ceil(pen.measureText(name).width) + 8);
}

/** A name in letters that the library would set in the wrong order or shape; the browser does it right. */
function drawName(pen, name, ground) {
  pen.font = NAME_FONT;
  pen.lineWidth = 3;
  pen.lineJoin = "round";
  pen.strokeStyle = ground.land;
  pen.fillStyle = ground.ink;
  const middle = nameWidth(name) / 2;
  pen.strokeText(name, middle, 12);
  pen.fillText(name, middle, 12);
}

/** Letters that run to the left, or join and change by their neighbours. */
const SHAPED = /[\u0590-\u08ff\u0900-\u109f\u1780-\u17ff\ufb1d-\ufdff\ufe70-\ufeff]/;

/**
 * A square by how much sky is open there; a bar above is a roof (-1), a broken one a roof that is not known (1); a stroke is
 * private ground.
 */
function drawStop(pen, [letter, ...numbers], ground) {
  const [roof, sky, closed] = numbers.map(Number);
  const fill = [ground.ink, "#8c8c8c", ground.paper][sky];
  const text = [ground.paper, ground.paper, ground.ink][sky];
  pen.fillStyle = fill;
  pen.strokeStyle = ground.ink;
  pen.lineWidth = 1.4;
  pen.fillRect(4, 6, 16, 15);
  pen.strokeRect(4, 6, 16, 15);
  pen.fillStyle = text;
  pen.font = "bold 12px system-ui, 'Liberation Sans', Arial, sans-serif";
  pen.fillText(letter, 12, 14);
  if (roof !== 0) {
    pen.beginPath();
    pen.setLineDash(roof === 1 ? [3, 2.2] : []);
    pen.lineWidth = 3;
    pen.moveTo(2, 3);
    pen.lineTo(22, 3);
    pen.stroke();
    pen.setLineDash([]);
  }
  if (closed) {
    pen.beginPath();
    pen.lineWidth = 1.6;
    pen.strokeStyle = sky === 2 ? ground.ink : ground.paper;
    pen.moveTo(5, 20);
    pen.lineTo(19, 7);
    pen.stroke();
  }
}
