// drawing.js: a new mark, as it is drawn: a rectangle by one stroke across it, or corner by corner by taps.

import { far } from "./shapes.js";

const CLOSE = 24; // CSS pixels around the first corner that close the outline

export class Drawing {
    // done(polygon) once the outline is closed.
    constructor(stage, role, done, changed) {
        Object.assign(this, { stage, role, done, changed });
        this.corners = [];
        this.stroke = null;
    }

    // What is seen of it so far, picture places.
    draft() {
        if (this.stroke) return this.corners.length ? [...this.corners, this.stroke[1]] : this.strokeOutline();
        return this.corners;
    }

    strokeOutline() {
        const [[ax, ay], [bx, by]] = this.stroke;
        return [
            [ax, ay],
            [bx, ay],
            [bx, by],
            [ax, by],
        ];
    }

    inside([x, y]) {
        const { width, height } = this.stage.size;
        return [Math.min(Math.max(x, 0), width), Math.min(Math.max(y, 0), height)];
    }

    drag(from, to, far) {
        this.stroke = far || this.corners.length ? [this.inside(from), this.inside(to)] : null;
        this.changed();
    }

    // A stroke without corners before makes a rectangle; anything else puts a corner where it was lifted.
    lift(from, to, dragged) {
        this.stroke = null;
        if (dragged && !this.corners.length) {
            const [a, b] = [this.inside(from), this.inside(to)];
            if (Math.abs(a[0] - b[0]) >= 1 && Math.abs(a[1] - b[1]) >= 1) {
                this.done([
                    [Math.min(a[0], b[0]), Math.min(a[1], b[1])],
                    [Math.max(a[0], b[0]), Math.min(a[1], b[1])],
                    [Math.max(a[0], b[0]), Math.max(a[1], b[1])],
                    [Math.min(a[0], b[0]), Math.max(a[1], b[1])],
                ]);
                return;
            }
        } else if (this.closes(to)) {
            this.close();
            return;
        } else this.corners.push(this.inside(to));
        this.changed();
    }

    closes(place) {
        return this.corners.length >= 3 && far(this.stage.toStage(this.corners[0]), this.stage.toStage(place)) <= CLOSE;
    }

    close() {
        if (this.corners.length >= 3) this.done(this.corners);
    }

    back() {
        this.corners.pop();
        this.changed();
    }

    letGo() {
        this.stroke = null;
        this.changed();
    }

    // For those who draw with keys: a rectangle in the middle of what is seen.
    middle() {
        const { clientWidth: width, clientHeight: height } = this.stage.root;
        const place = (x, y) => [
            (x * width - this.stage.at.x) / this.stage.at.k,
            (y * height - this.stage.at.y) / this.stage.at.k,
        ];
        this.lift(place(0.35, 0.4), place(0.65, 0.6), true);
    }
}
