// marks.js: the marks on one photo as they stand, with undo. Knows names, roles and corners; neither screen nor program.
//
// A mark: { id, role, name, polygon: [[x, y], ...], kind, beside: [names of old wood], found, off_px, proposed }
// Corners are pixels of the upright picture; pixel 0 reaches from 0 to 1. `found`, `off_px`: how sure the program was and by
// how much it may be off, as it said; gone as soon as a person moves a corner. `proposed`: not accepted yet, so not read.

import { rectangle, shiftWithin } from "./shapes.js";

export const ROLE_WORDS = {
    patch: "repair",
    target: "old wood",
    card: "grey card",
    neutral: "neutral step",
    chart: "colour chart",
    field: "plain board for the light",
    board_strip: "strip of the board",
};
const NAME_BYTES = 95; // HW_NAME_SIZE less its end (base.h)
const NAME_OF_ALL = "beside"; // means all old wood beside a repair, so no mark may have it (mark.h)
const UNDO_MOST = 100;

// A name as the program takes it: one line, no control letters, not too long.
export function cleanName(text) {
    let name = text
        .replace(/[\p{Cc}\p{Cf}]/gu, " ")
        .replace(/\s+/g, " ")
        .trim();
    while (new TextEncoder().encode(name).length > NAME_BYTES) name = [...name].slice(0, -1).join("");
    return name.trim();
}

const isWood = (mark) => mark.role === "patch" || mark.role === "target" || mark.role === "board_strip";
const rounded = (value) => Math.round(value * 100) / 100; // a hundredth of a pixel

export class Marks extends EventTarget {
    // size: { width, height } of the upright picture. Tells "change" (detail: { resting }): resting is false while a finger
    // still moves something.
    // elsewhere(name): whether that is a part seen from another side, whose name is not to be given again by itself.
    constructor(size, list = [], elsewhere = () => false) {
        super();
        this.size = size;
        this.elsewhere = elsewhere;
        this.list = [];
        this.undone = [];
        this.done = [];
        this.count = 0;
        this.load(list);
    }

    // Takes these marks, with no way back to those before.
    load(list) {
        this.list = list.map((mark) => this.dressed(mark));
        this.done = [];
        this.undone = [];
    }

    dressed(mark) {
        this.count += 1;
        return { kind: "let_in", beside: [], ...structuredClone(mark), id: `mark-${this.count}` };
    }

    find(id) {
        return this.list.find((mark) => mark.id === id) || null;
    }
    named(name) {
        return this.list.find((mark) => mark.name === name) || null;
    }
    of(role) {
        return this.list.filter((mark) => mark.role === role);
    }

    // As the program takes them; proposals left out unless wanted.
    plain({ proposals = false } = {}) {
        return this.list
            .filter((mark) => proposals || !mark.proposed)
            .map((mark) => {
                const made = { role: mark.role, name: mark.name, polygon: mark.polygon };
                if (mark.role === "patch") made.kind = mark.kind;
                if (mark.role === "patch" && mark.beside.length) made.beside = mark.beside;
                if (mark.found) Object.assign(made, { found: mark.found, off_px: mark.off_px || 0 });
                if (proposals && mark.proposed) made.proposed = true;
                return made;
            });
    }

    // ---- Undo --------------------------------------------------------------------

    tell(resting) {
        this.dispatchEvent(new CustomEvent("change", { detail: { resting } }));
    }

    // Everything that changes marks goes through begin, any number of live changes, and rest (or giveUp).
    begin() {
        this.before = JSON.stringify(this.list);
    }

    rest() {
        if (this.before === undefined) return;
        if (this.before !== JSON.stringify(this.list)) {
            this.done.push(this.before);
            if (this.done.length > UNDO_MOST) this.done.shift();
            this.undone = [];
        }
        delete this.before;
        this.tell(true);
    }

    giveUp() {
        if (this.before === undefined) return;
        this.list = JSON.parse(this.before);
        delete this.before;
        this.tell(true);
    }

    edit(work) {
        this.begin();
        const result = work();
        this.rest();
        return result;
    }

    undo() {
        return this.step(this.done, this.undone);
    }
    redo() {
        return this.step(this.undone, this.done);
    }

    step(from, to) {
        if (!from.length) return false;
        to.push(JSON.stringify(this.list));
        this.list = JSON.parse(from.pop());
        this.tell(true);
        return true;
    }

    // ---- Corners -------------------------------------------------------------------

    within([x, y]) {
        return [
            rounded(Math.min(Math.max(x, 0), this.size.width)),
            rounded(Math.min(Math.max(y, 0), this.size.height)),
        ];
    }

    byHand(mark) {
        delete mark.found;
        delete mark.off_px;
    }

    // Live: between begin and rest.
    setCorner(id, corner, place) {
        const mark = this.find(id);
        mark.polygon[corner] = this.within(place);
        this.byHand(mark);
        this.tell(false);
    }

    // Live: the outline that it had at the start, shifted.
    setShift(id, start, dx, dy) {
        const mark = this.find(id);
        const [sx, sy] = shiftWithin(start, dx, dy, this.size.width, this.size.height);
        mark.polygon = start.map(([x, y]) => this.within([x + sx, y + sy]));
        this.byHand(mark);
        this.tell(false);
    }

    nudge(id, corner, dx, dy) {
        this.edit(() => {
            const mark = this.find(id);
            if (corner === null) this.setShift(id, mark.polygon, dx, dy);
            else this.setCorner(id, corner, [mark.polygon[corner][0] + dx, mark.polygon[corner][1] + dy]);
        });
    }

    insertCorner(id, before, place) {
        const mark = this.find(id);
        mark.polygon.splice(before, 0, this.within(place));
        this.byHand(mark);
    }

    removeCorner(id, corner) {
        const mark = this.find(id);
        if (mark.polygon.length <= 3) return false;
        this.edit(() => {
            mark.polygon.splice(corner, 1);
            this.byHand(mark);
        });
        return true;
    }

    // ---- Whole marks ------------------------------------------------------------------

    add(role, polygon, name = "") {
        return this.edit(() => {
            const mark = this.dressed({
                role,
                name: name || this.freeName(role),
                polygon: polygon.map((p) => this.within(p)),
            });
            this.list.push(mark);
            return mark;
        });
    }

    addRectangle(role, from, to, name) {
        return this.add(role, rectangle(from, to), name);
    }

    remove(id) {
        this.edit(() => {
            const gone = this.find(id);
            this.list = this.list.filter((mark) => mark !== gone);
            this.forgetBeside(gone, null);
        });
    }

    forgetBeside(gone, renamed) {
        if (gone.role !== "target") return;
        for (const mark of this.list)
            mark.beside = mark.beside.flatMap((name) => (name !== gone.name ? [name] : renamed ? [renamed] : []));
    }

    // "" when done, else why not, in words.
    rename(id, text) {
        const mark = this.find(id),
            name = cleanName(text);
        if (!name) return "A mark needs a name.";
        if (name === mark.name) return "";
        if (name === NAME_OF_ALL) return `"${name}" means all old wood. Choose another name.`;
        if (this.list.some((other) => other !== mark && other.name === name && isWood(other) === isWood(mark)))
            return `There is a mark named "${name}" already. Choose another name.`;
        this.edit(() => {
            this.forgetBeside(mark, name);
            mark.name = name;
        });
        return "";
    }

    change(id, properties) {
        this.edit(() => {
            const mark = this.find(id);
            if (properties.role && properties.role !== mark.role) this.forgetBeside(mark, null);
            Object.assign(mark, properties);
        });
    }

    freeName(role) {
        const wanted =
            {
                patch: ["repair"],
                card: ["grey card"],
                neutral: ["white", "grey", "black"],
                chart: ["chart"],
                field: ["plain board"],
            }[role] || [];
        const stem = { target: "old wood", patch: "repair", board_strip: "strip" }[role] || ROLE_WORDS[role];
        const taken = (name) => this.named(name) !== null || this.elsewhere(name);
        const free = wanted.find((name) => !taken(name));
        if (free) return free;
        for (let n = wanted.length === 1 ? 2 : 1; ; n += 1) if (!taken(`${stem} ${n}`)) return `${stem} ${n}`;
    }

    // ---- Proposals ---------------------------------------------------------------------

    propose(list) {
        return this.edit(() =>
            list.map((mark) => {
                const made = this.dressed({ ...mark, name: this.freeName(mark.role), proposed: true });
                this.list.push(made);
                return made;
            }),
        );
    }

    proposals() {
        return this.list.filter((mark) => mark.proposed);
    }
    acceptAll() {
        this.edit(() => this.proposals().forEach((mark) => delete mark.proposed));
    }
    dropProposals() {
        this.edit(() => {
            this.list = this.list.filter((mark) => !mark.proposed);
        });
    }

    // "lid strip, repair, 4 corners, found by the program"
    told(mark) {
        const by = mark.proposed ? "proposed, not read yet" : mark.found ? "found by the program" : "placed by hand";
        return `${ROLE_WORDS[mark.role] || mark.role}, ${mark.polygon.length} corners, ${by}`;
    }
}
