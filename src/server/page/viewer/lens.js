// lens.js: what lies below the finger, enlarged, in the upper corner away from it, with a cross on the very place.

import { el } from "../dom.js";

const TIMES = 4; // as large as on the stage: chosen
const LEAST = 0.4; // CSS pixels a picture pixel
const MOST = 16;

export class Lens {
    constructor(stage) {
        this.stage = stage;
        this.canvas = el("canvas", { class: "stage-lens", hidden: true, "aria-hidden": "true" });
        stage.root.append(this.canvas);
    }

    // place: picture pixels; outlines: [{ polygon, closed }] to be drawn in it.
    show(place, outlines) {
        this.canvas.hidden = false;
        const side = this.canvas.clientWidth,
            sharp = devicePixelRatio || 1;
        const [x] = this.stage.toStage(place);
        this.canvas.classList.toggle("left", x > this.stage.root.clientWidth / 2);
        this.canvas.width = this.canvas.height = Math.round(side * sharp);
        const k = Math.min(Math.max(this.stage.at.k * TIMES, LEAST), MOST);
        const pen = this.canvas.getContext("2d");
        pen.scale(sharp, sharp);
        pen.fillStyle = "#777777";
        pen.fillRect(0, 0, side, side);
        this.picture(pen, place, k, side);
        const at = ([px, py]) => [(px - place[0]) * k + side / 2, (py - place[1]) * k + side / 2];
        for (const outline of outlines) line(pen, outline.polygon.map(at), outline.closed);
        cross(pen, side);
    }

    hide() {
        this.canvas.hidden = true;
    }

    picture(pen, [x, y], k, side) {
        const { picture, size } = this.stage;
        if (!picture.naturalWidth) return;
        const sx = picture.naturalWidth / size.width,
            sy = picture.naturalHeight / size.height;
        pen.imageSmoothingEnabled = k < 3;
        pen.drawImage(
            picture,
            (x - side / 2 / k) * sx,
            (y - side / 2 / k) * sy,
            (side / k) * sx,
            (side / k) * sy,
            0,
            0,
            side,
            side,
        );
    }
}

function stroke(pen, width, colour) {
    pen.lineWidth = width;
    pen.strokeStyle = colour;
    pen.stroke();
}

function line(pen, points, closed) {
    pen.beginPath();
    points.forEach(([x, y], i) => (i ? pen.lineTo(x, y) : pen.moveTo(x, y)));
    if (closed) pen.closePath();
    stroke(pen, 4, "#ffffff");
    stroke(pen, 1.5, "#000000");
}

// Open in the middle, so that the pixel itself is seen.
function cross(pen, side) {
    const middle = side / 2,
        gap = 5,
        arm = side / 5;
    pen.beginPath();
    for (const [dx, dy] of [
        [1, 0],
        [-1, 0],
        [0, 1],
        [0, -1],
    ]) {
        pen.moveTo(middle + dx * gap, middle + dy * gap);
        pen.lineTo(middle + dx * arm, middle + dy * arm);
    }
    stroke(pen, 5, "#ffffff");
    stroke(pen, 2, "#000000");
}
