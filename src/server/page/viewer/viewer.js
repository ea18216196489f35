// viewer.js: a photo with its marks: look at it, draw, drag, name, undo; by finger, mouse, keys, and as a list that is read out.
//
//     const viewer = new Viewer({ signal: page.signal, roles: PHOTO_ROLES });
//     page.root.append(viewer.root, viewer.list);
//     await viewer.start();
//     await viewer.show(address, { width, height }, "Photo of the lid");
//     viewer.setMarks([{ role, name, polygon }, …]);
//     viewer.addEventListener("rest", () => save(viewer.marks.plain()));
//
//   stage.js    the photo itself, moved and enlarged
//   overlay.js  marks drawn over it
//   hands.js    what fingers do
//   drawing.js  a new mark
//   lens.js     the magnifier
//   tools.js    words and buttons for what is chosen; the list
//   marks.js    the marks, with undo
//   shapes.js   outlines

import { el, tell } from "../dom.js";
import { Drawing } from "./drawing.js";
import { Hands } from "./hands.js";
import { Lens } from "./lens.js";
import { Marks } from "./marks.js";
import { Overlay } from "./overlay.js";
import { box } from "./shapes.js";
import { Stage, fetchLibrary } from "./stage.js";
import { Tools } from "./tools.js";

// What can be drawn on a photo of a piece: role, name it starts with (none: the next free one), words on the button, what to do.
export const PHOTO_ROLES = [
    { role: "patch", words: "Repair", how: "Drag across the repair" },
    { role: "target", words: "Old wood", how: "Drag across sound old wood near the repair" },
    { role: "card", words: "Grey card", how: "Drag across the grey card, a little inside its edge" },
    { role: "neutral", name: "white", words: "White step", how: "Drag across the white step", more: true },
    { role: "neutral", name: "grey", words: "Grey step", how: "Drag across the grey step", more: true },
    { role: "neutral", name: "black", words: "Black step", how: "Drag across the black step", more: true },
    {
        role: "chart",
        name: "chart",
        words: "Colour chart",
        more: true,
        how: "The outer corners of its field of 24: dark skin, bluish green, black, white, in this order. Drag across it where dark skin lies upper left",
    },
    { role: "field", words: "Plain board for the light", how: "Drag across the plain board", more: true },
];

const KEYS =
    "Plus and minus enlarge it, 0 shows all of it, arrows move it. N chooses the next mark, C its next corner: " +
    "arrows move that then, with Shift by 10 pixels. Escape lets go.";

export class Viewer extends EventTarget {
    // signal: takes all listeners away. readOnly: looked at only. roles: what can be drawn. around(mark): resolves to proposed
    // marks around a repair (none: not offered). names(role): names to propose. elsewhere(name): as of Marks.
    // Tells "live" while something is dragged, "rest" when marks changed and rest, "mode" when a mark is chosen or drawing begins or ends.
    constructor({
        signal,
        readOnly = false,
        roles = PHOTO_ROLES,
        around = null,
        names = () => [],
        elsewhere = () => false,
        label = "Photo with its marks",
    }) {
        super();
        Object.assign(this, { signal, readOnly, roles, around, names, elsewhere });
        this.selected = null; // id of a mark
        this.corner = null; // number of its corner, null: the whole mark
        this.drawing = null;
        this.wrong = ""; // name of the mark that a refusal named
        this.stage = new Stage(`${label}. ${KEYS}`);
        this.overlay = new Overlay(this.stage);
        this.lens = new Lens(this.stage);
        this.marks = new Marks({ width: 0, height: 0 }, [], elsewhere);
        this.tools = new Tools(this);
        this.list = this.tools.list;
        this.hint = el("p", { class: "stage-hint", role: "status" });
        this.between = el("div", {}); // for questions about the photo: stands right below it
        this.root = el(
            "div",
            { class: "viewer" },
            el("div", { class: "viewer-photo" }, el("div", { class: "stage-frame" }, this.stage.root), this.tools.buttons),
            el("div", { class: "viewer-tools" }, this.hint, this.between, this.tools.root),
        );
    }

    // When it stands in the page.
    async start() {
        await fetchLibrary();
        this.stage.start(this.signal);
        this.hands = new Hands(this, this.signal);
        this.stage.addEventListener("move", () => this.draw());
        this.stage.addEventListener("picture", () => {
            this.marks.size = this.stage.size;
            this.draw();
        });
        this.listen();
        this.root.addEventListener("keydown", (event) => this.key(event), { signal: this.signal });
        this.stage.root.addEventListener("keydown", (event) => this.stageKey(event), { signal: this.signal });
        this.tools.draw();
    }

    listen() {
        this.marks.addEventListener("change", (event) => this.changed(event.detail.resting));
    }

    show(address, size, words) {
        return this.stage.show(address, size, words);
    }
    showFrom(address, longest, size, words) {
        return this.stage.showFrom(address, longest, size, words);
    }

    setMarks(list) {
        this.marks = new Marks(this.stage.size, list, this.elsewhere);
        this.listen();
        this.selected = null;
        this.corner = null;
        this.draw();
        this.tools.draw();
    }

    changed(resting) {
        const gone = this.selected !== null && !this.marks.find(this.selected);
        if (gone) {
            this.selected = null;
            this.corner = null;
        } else if (this.selected === null) this.corner = null;
        else if (this.corner !== null && this.corner >= this.marks.find(this.selected).polygon.length)
            this.corner = null;
        this.draw();
        if (resting) this.tools.draw();
        if (gone) this.dispatchEvent(new Event("mode"));
        this.dispatchEvent(new Event(resting ? "rest" : "live"));
    }

    draw() {
        const { selected, corner, wrong } = this;
        this.overlay.draw(this.marks, {
            selected,
            corner,
            wrong,
            handles: !this.readOnly && !this.drawing,
            names: !this.hands?.grab,
            draft: this.drawing?.draft(),
        });
    }

    // ---- Choosing ----------------------------------------------------------------------

    select(id, { reveal = false } = {}) {
        this.selected = id;
        this.corner = null;
        const mark = this.marks.find(id);
        if (mark && reveal) this.stage.reveal(box(mark.polygon));
        this.draw();
        this.tools.draw();
        if (mark) tell(`${mark.name}, ${this.marks.told(mark)}`);
        this.dispatchEvent(new Event("mode"));
    }

    // That corner of the chosen mark; null: all of it.
    choose(corner) {
        this.corner = corner;
        this.draw();
        this.tools.draw();
    }

    // Shows which mark a refusal means.
    blame(name) {
        this.wrong = name;
        this.draw();
    }

    // ---- Drawing a new one ---------------------------------------------------------------

    startDrawing(kind) {
        this.select(null);
        this.drawing = new Drawing(
            this.stage,
            kind.role,
            (polygon) => this.drawn(kind, polygon),
            () => {
                this.draw();
                this.tools.draw();
            },
        );
        this.stage.root.classList.add("drawing");
        this.stage.root.scrollIntoView({ block: "nearest" });
        this.say(`${kind.how}, or tap its corners one by one. Two fingers enlarge.`);
        this.tools.draw();
        this.dispatchEvent(new Event("mode"));
    }

    drawn(kind, polygon) {
        this.stopDrawing();
        const name =
            kind.name && !this.marks.named(kind.name)
                ? kind.name
                : this.names(kind.role).find((n) => !this.marks.named(n));
        const mark = this.marks.add(kind.role, polygon, name || "");
        this.select(mark.id);
    }

    stopDrawing() {
        this.drawing = null;
        this.stage.root.classList.remove("drawing");
        this.say("");
        this.draw();
        this.tools.draw();
        this.dispatchEvent(new Event("mode"));
    }

    say(words) {
        this.hint.textContent = words;
    }

    // ---- The magnifier -----------------------------------------------------------------------

    look(place) {
        const outlines = this.marks.list.map((mark) => ({ polygon: mark.polygon, closed: true }));
        const draft = this.drawing?.draft();
        if (draft?.length) outlines.push({ polygon: draft, closed: draft.length > 2 });
        this.lens.show(place, outlines);
    }

    lookAway() {
        this.lens.hide();
        this.draw();
    }

    // ---- Keys --------------------------------------------------------------------------------

    key(event) {
        if (!(event.ctrlKey || event.metaKey) || event.target.matches("input, select, textarea")) return;
        const letter = event.key.toLowerCase();
        if (letter === "z" && !event.shiftKey) this.undo();
        else if (letter === "y" || letter === "z") this.redo();
        else return;
        event.preventDefault();
    }

    undo() {
        if (this.drawing?.corners.length) this.drawing.back();
        else if (!this.readOnly) this.marks.undo();
    }

    redo() {
        if (!this.readOnly) this.marks.redo();
    }

    stageKey(event) {
        if (event.ctrlKey || event.metaKey || event.altKey) return;
        if (this.markKey(event) || this.stage.key(event)) event.preventDefault();
    }

    markKey(event) {
        if (event.key === "n" || event.key === "N") this.next();
        else if (event.key === "Escape" && this.drawing) this.stopDrawing();
        else if (event.key === "Escape" && this.selected) this.select(null);
        else if (!this.selected || this.readOnly) return false;
        else if (event.key === "c" || event.key === "C") this.nextCorner();
        else if (event.key === "Delete" || event.key === "Backspace") this.remove();
        else return this.nudgeKey(event, this.corner);
        return true;
    }

    // True where the key was an arrow: then that corner (null: the whole mark) has moved.
    nudgeKey(event, corner) {
        const step = event.shiftKey ? 10 : 1;
        const ways = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step], ArrowDown: [0, step] };
        if (!ways[event.key]) return false;
        this.nudge(corner, ...ways[event.key]);
        return true;
    }

    nudge(corner, dx, dy) {
        this.marks.nudge(this.selected, corner, dx, dy);
        const { polygon } = this.marks.find(this.selected);
        const [x, y] = polygon[corner ?? 0].map(Math.round);
        tell(corner === null ? `Moved: its first corner is at ${x}, ${y}` : `Corner ${corner + 1} at ${x}, ${y}`);
    }

    next() {
        const { list } = this.marks;
        if (!list.length) return;
        const now = list.findIndex((mark) => mark.id === this.selected);
        this.select(list[(now + 1) % list.length].id, { reveal: true });
    }

    nextCorner() {
        const { polygon } = this.marks.find(this.selected);
        this.choose(this.corner === null ? 0 : this.corner + 1 < polygon.length ? this.corner + 1 : null);
    }

    // The chosen corner, or else the mark.
    remove() {
        if (this.corner === null) this.marks.remove(this.selected);
        else if (this.marks.removeCorner(this.selected, this.corner)) this.choose(null);
        else this.say("An outline needs three corners.");
    }
}
