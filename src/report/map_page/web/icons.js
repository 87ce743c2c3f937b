// Signs drawn on the spot: numbered circles, places to stop. No picture is loaded.

const STOP_LETTERS = ["F", "R", "S", "C", "C", "C", "T", "V", "P"];

/** The name of a sign for a place to stop: letter, roof, how much sky is open, private. */
function stopIcon(data, i) {
  const open = data.stops.open_percent[i];
  const sky = open >= 90 ? 2 : open > 50 ? 1 : 0;
  return `stop:${data.stops.kind[i]}:${data.stops.roof[i]}:${sky}:${data.stops.access[i] === 2 ? 1 : 0}`;
}

/** Draws a missing sign. */
function drawIcon(map, name, ground) {
  const [kind, ...rest] = name.split(":");
  const ratio = Math.max(1, Math.min(3, Math.ceil(devicePixelRatio)));
  const side = kind === "number" ? 26 : 24;
  const canvas = document.createElement("canvas");
  canvas.width = canvas.height = side * ratio;
  const pen = canvas.getContext("2d");
  pen.scale(ratio, ratio);
  pen.textAlign = "center";
  pen.textBaseline = "middle";
  if (kind === "number") drawNumber(pen, rest[0], ground);
  else if (kind === "stop") drawStop(pen, rest.map(Number), ground);
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

/** A square by how much sky is open there; a bar above is a roof, a broken one a roof that may be; a cross is private ground. */
function drawStop(pen, [kind, roof, sky, closed], ground) {
  const fill = [ground.ink, "#8c8c8c", ground.paper][sky];
  const text = [ground.paper, ground.paper, ground.ink][sky];
  pen.fillStyle = fill;
  pen.strokeStyle = ground.ink;
  pen.lineWidth = 1.4;
  pen.fillRect(4, 6, 16, 15);
  pen.strokeRect(4, 6, 16, 15);
  pen.fillStyle = text;
  pen.font = "bold 12px system-ui, 'Liberation Sans', Arial, sans-serif";
  pen.fillText(STOP_LETTERS[kind] ?? "", 12, 14);
  // Roofed: yes, no, unknown.
  if (roof !== 1) {
    pen.beginPath();
    pen.setLineDash(roof === 2 ? [3, 2.2] : []);
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
