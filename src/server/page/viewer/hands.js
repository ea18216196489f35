// hands.js: what a finger, pen or mouse does to the marks on the stage. Two fingers always move and enlarge the photo, and take
// back what the first one had begun; one finger takes hold of a handle, draws, chooses by a tap, or else moves the photo.

import { areaOf, far, holds, rectangle } from "./shapes.js";
import { handlesOf } from "./overlay.js";

const REACH = 24; // CSS pixels around a handle: a target of 48
const STILL = 8; // CSS pixels that a tap may wander
const START = 3; // and that a handle must be dragged before it moves

export class Hands {
    // viewer: { stage, marks, selected, corner, drawing, readOnly } and its calls select, startDraft…: see viewer.js
    constructor(viewer, signal) {
        this.viewer = viewer;
        this.stage = viewer.stage;
        this.down = new Map();
        this.grab = null;
        this.tap = null;
        const { root } = this.stage;
        const listen = (name, call) => root.addEventListener(name, call, { signal });
        listen("pointerdown", (event) => this.pressed(event));
        listen("pointermove", (event) => this.movedTo(event));
        listen("pointerup", (event) => this.lifted(event));
        listen("pointercancel", (event) => this.lost(event));
        this.stage.mayMove = (event) =>
            event.type === "wheel" || (!this.grab && !(event.type === "dblclick" && viewer.drawing));
    }

    pressed(event) {
        if (event.pointerType === "mouse" && event.button !== 0) return;
        if (event.isPrimary) this.down.clear(); // the first finger: of an earlier one the browser may not have told the end
        this.down.set(event.pointerId, event);
        if (this.down.size > 1) {
            this.letGo();
            return;
        }
        const start = {
            client: [event.clientX, event.clientY],
            place: this.stage.toPicture(event.clientX, event.clientY),
            moved: false,
        };
        this.tap = start;
        this.grab = this.viewer.drawing ? { kind: "draw", ...start } : this.handleAt(event, start);
        if (!this.grab) return;
        this.stage.root.setPointerCapture(event.pointerId);
        this.viewer.look(this.grab.kind === "draw" ? this.grab.place : this.grab.from || this.grab.place);
    }

    handleAt(event, start) {
        const { viewer } = this;
        const mark = viewer.marks.find(viewer.selected);
        if (!mark || viewer.readOnly) return null;
        const here = this.stage.place(event.clientX, event.clientY);
        const [nearest] = handlesOf(mark, this.stage)
            .map((handle) => ({ ...handle, far: far(handle.at, here) }))
            .filter((handle) => handle.far <= REACH)
            .sort((a, b) => a.far - b.far);
        if (!nearest) return null;
        const from = nearest.kind === "corner" ? mark.polygon[nearest.corner] : null;
        return { ...start, kind: nearest.kind, corner: nearest.corner, id: mark.id, from, outline: mark.polygon };
    }

    movedTo(event) {
        if (!this.down.has(event.pointerId) || this.down.size > 1 || !this.tap) return;
        const way = far(this.tap.client, [event.clientX, event.clientY]);
        if (way > STILL) this.tap.moved = true;
        if (!this.grab) return;
        if (!this.grab.moved && way <= START) return;
        if (!this.grab.moved) this.begin();
        this.grab.moved = true;
        this.carry(event);
    }

    begin() {
        const { viewer, grab } = this;
        if (grab.kind === "draw") return;
        viewer.marks.begin();
        if (grab.kind === "between") {
            viewer.marks.insertCorner(grab.id, grab.corner, grab.place);
            grab.kind = "corner";
            grab.from = grab.place;
        }
        viewer.choose(grab.kind === "corner" ? grab.corner : null);
    }

    // The place under the finger as the mark takes it: a corner keeps its distance to the finger that took hold of it.
    carry(event) {
        const { viewer, grab } = this;
        const place = this.stage.toPicture(event.clientX, event.clientY);
        const dx = place[0] - grab.place[0],
            dy = place[1] - grab.place[1];
        if (grab.kind === "draw") {
            viewer.drawing.drag(grab.place, place, far(grab.client, [event.clientX, event.clientY]) > STILL);
            viewer.look(place);
        } else if (grab.kind === "corner") {
            viewer.marks.setCorner(grab.id, grab.corner, [grab.from[0] + dx, grab.from[1] + dy]);
            viewer.look(viewer.marks.find(grab.id).polygon[grab.corner]);
        } else {
            viewer.marks.setShift(grab.id, grab.outline, dx, dy);
            viewer.look(place);
        }
    }

    lifted(event) {
        if (!this.down.delete(event.pointerId)) return;
        const { grab, tap, viewer } = this;
        this.grab = null;
        this.tap = null;
        viewer.lookAway();
        if (!tap) return;
        const place = this.stage.toPicture(event.clientX, event.clientY);
        if (grab?.kind === "draw") {
            const dragged = far(grab.client, [event.clientX, event.clientY]) > STILL;
            viewer.drawing.lift(dragged ? grab.place : place, place, dragged);
        } else if (grab?.moved) viewer.marks.rest();
        else if (grab) this.tapHandle(grab, place);
        else if (!tap.moved) this.tapMark(event);
    }

    tapHandle(grab, place) {
        const { viewer } = this;
        if (grab.kind === "between") {
            viewer.marks.edit(() => viewer.marks.insertCorner(grab.id, grab.corner, place));
            viewer.choose(grab.corner);
        } else viewer.choose(grab.kind === "corner" ? grab.corner : null);
    }

    // The smallest mark under the finger; beside all: none is chosen.
    tapMark(event) {
        const place = this.stage.toPicture(event.clientX, event.clientY);
        const [hit] = this.viewer.marks.list
            .filter((mark) => holds(mark.polygon, place) || this.nearEdge(mark, event))
            .sort((a, b) => areaOf(a.polygon) - areaOf(b.polygon));
        this.viewer.select(hit ? hit.id : null);
    }

    // A strip three pixels high is still to be hit.
    nearEdge(mark, event) {
        const [x, y] = this.stage.place(event.clientX, event.clientY);
        const points = mark.polygon.map((p) => this.stage.toStage(p));
        const grown = rectangle(
            [Math.min(...points.map((p) => p[0])) - 10, Math.min(...points.map((p) => p[1])) - 10],
            [Math.max(...points.map((p) => p[0])) + 10, Math.max(...points.map((p) => p[1])) + 10],
        );
        return areaOf(points) < 48 * 48 * 2 && holds(grown, [x, y]);
    }

    lost(event) {
        this.down.delete(event.pointerId);
        this.letGo();
    }

    // A second finger came: what the first had begun is taken back.
    letGo() {
        const { grab, viewer } = this;
        this.grab = null;
        this.tap = null;
        viewer.lookAway();
        if (grab?.kind === "draw") viewer.drawing?.letGo();
        else if (grab?.moved) viewer.marks.giveUp();
    }
}
