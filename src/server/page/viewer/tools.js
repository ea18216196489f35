// tools.js: below the stage: what can be done next, in words, for what is chosen; and the list of all marks, which says the
// same as the picture to those who do not see it.

import { button, choices, el, field, fill, tell, ticked, ticks } from "../dom.js";
import { ROLE_WORDS, cleanName } from "./marks.js";

const KINDS = [
    ["let_in", "Let in: it meets old wood at a joint"],
    ["board", "A whole door, panel or rail"],
];
let lists = 0;

export class Tools {
    constructor(viewer) {
        this.viewer = viewer;
        this.open = false; // "More about this mark"
        this.held = false; // a mouse button, or the tap that stands for one, is down on what would be drawn anew
        this.owed = false; // and drawing it waits until the tap is through
        this.root = el("section", { class: "tools", "aria-label": "Marks: what to do" });
        this.buttons = this.stageButtons();
        this.list = el("section", { class: "mark-list", "aria-label": "List of marks" });
        for (const part of [this.root, this.list]) part.addEventListener("mousedown", () => this.hold());
    }

    // A name that is left by tapping a button changes while that button is held: were the button drawn anew, the tap would be lost.
    // It is drawn once the click has reached its button, or where none follows.
    hold() {
        const done = new AbortController();
        const { signal } = done;
        this.held = true;
        document.addEventListener("click", () => (this.held = false), { signal, capture: true });
        const release = () => {
            done.abort();
            this.release();
        };
        document.addEventListener("click", release, { signal });
        document.addEventListener("mouseup", () => setTimeout(release, 0), { signal });
    }

    // Left by the Tab key it changes before the focus has moved on.
    wait() {
        if (this.held) return;
        this.held = true;
        setTimeout(() => this.release(), 0);
    }

    release() {
        this.held = false;
        if (this.owed) this.draw();
    }

    // Always there, right below the photo.
    stageButtons() {
        const { viewer } = this;
        const { stage } = viewer;
        const made = (words, label, press, kind = "") =>
            el("button", { type: "button", class: `press ${kind}`, "aria-label": label, on: { click: press } }, words);
        this.undo = made("Undo", null, () => viewer.undo(), "undo");
        this.redo = made("Redo", null, () => viewer.redo());
        return el(
            "div",
            { class: "stage-buttons", role: "group", "aria-label": "Photo" },
            made("+", "Larger", () => stage.enlarge()),
            made("−", "Smaller", () => stage.enlarge(1 / 1.6)),
            made("All", "All of the photo", () => stage.fit()),
            viewer.readOnly ? null : [this.undo, this.redo],
        );
    }

    // Draws anew, and leaves the focus on the button that has the same meaning as the one before.
    draw() {
        const { viewer } = this;
        this.owed = this.held;
        if (this.held) return;
        this.open = this.root.querySelector("details.more")?.open ?? this.open;
        const active = document.activeElement;
        const kept = active && (this.root.contains(active) || this.list.contains(active)) ? active.dataset.key : null;
        const mark = viewer.marks.find(viewer.selected);
        if (viewer.readOnly)
            fill(this.root, mark ? el("p", { class: "strong" }, `${mark.name}: ${viewer.marks.told(mark)}`) : null);
        else if (viewer.drawing) fill(this.root, this.whileDrawing());
        else if (mark) fill(this.root, this.chosen(mark));
        else fill(this.root, this.nothingChosen());
        fill(this.list, this.listed());
        this.undo.setAttribute("aria-disabled", String(!viewer.marks.done.length && !viewer.drawing?.corners.length));
        this.redo.setAttribute("aria-disabled", String(!viewer.marks.undone.length));
        if (kept) this.focus(kept);
    }

    focus(key) {
        const [found] = [
            ...this.root.querySelectorAll("[data-key]"),
            ...this.list.querySelectorAll("[data-key]"),
        ].filter((element) => element.dataset.key === key);
        // No text field unasked: a phone would put its keys over the photo.
        (found || this.root.querySelector('[data-key="done"]') || this.root.querySelector("button"))?.focus({
            preventScroll: true,
        });
    }

    press(words, key, call, kind = "") {
        return button(words, call, kind, { "data-key": key });
    }

    // ---- Nothing chosen: what to mark ------------------------------------------------------

    nothingChosen() {
        const { viewer } = this;
        const draw = (kind) => this.press(kind.words, `draw ${kind.words}`, () => viewer.startDrawing(kind));
        const more = viewer.roles.filter((kind) => kind.more);
        return [
            this.proposed(),
            el("p", { class: "tools-head", id: "mark-what" }, "Mark on the photo:"),
            el(
                "div",
                { class: "row", role: "group", "aria-labelledby": "mark-what" },
                viewer.roles.filter((kind) => !kind.more).map(draw),
            ),
            more.length
                ? el("details", {}, el("summary", {}, "Other references"), el("div", { class: "row" }, more.map(draw)))
                : null,
        ];
    }

    proposed() {
        const { marks } = this.viewer;
        const list = marks.proposals();
        if (!list.length) return null;
        const count =
            list.length === 1 ? "1 spot of old wood is proposed" : `${list.length} spots of old wood are proposed`;
        return el(
            "div",
            { class: "question" },
            el("p", { class: "strong" }, `${count}, dotted. Tap one that lies on something else, and drop it.`),
            el(
                "div",
                { class: "row" },
                this.press(
                    list.length === 1 ? "Take it" : `Take all ${list.length}`,
                    "take-all",
                    () => marks.acceptAll(),
                    "main",
                ),
                this.press("Drop all", "drop-all", () => marks.dropProposals()),
            ),
        );
    }

    whileDrawing() {
        const { viewer } = this;
        const { drawing } = viewer;
        return el(
            "div",
            { class: "row" },
            drawing.corners.length >= 3
                ? this.press("Close the outline", "close", () => drawing.close(), "main")
                : null,
            drawing.corners.length
                ? this.press("Take the last corner back", "back", () => drawing.back())
                : this.press("Put one in the middle", "middle", () => drawing.middle()),
            this.press("Do not draw", "cancel", () => viewer.stopDrawing()),
        );
    }

    // ---- A mark is chosen ------------------------------------------------------------------

    chosen(mark) {
        const { viewer } = this;
        const kind = viewer.roles.find(
            (one) => one.role === mark.role && ["patch", "target", "board_strip"].includes(one.role),
        );
        return [
            this.proposed(),
            this.nameField(mark),
            el(
                "div",
                { class: "row" },
                mark.proposed
                    ? this.press("Take this one", "take", () => viewer.marks.edit(() => delete mark.proposed))
                    : null,
                mark.role === "patch" && viewer.around
                    ? this.press("Propose old wood around it", "around", () => this.around(mark))
                    : null,
                viewer.corner !== null && mark.polygon.length > 3
                    ? this.press(`Remove corner ${viewer.corner + 1}`, "remove-corner", () => viewer.remove())
                    : null,
                this.press(mark.proposed ? "Drop it" : "Remove", "remove", () => this.removed(mark)),
                kind && !mark.proposed ? this.press("Draw another", "another", () => viewer.startDrawing(kind)) : null,
                this.press("Done", "done", () => viewer.select(null)),
            ),
            this.more(mark),
        ];
    }

    removed(mark) {
        this.viewer.marks.remove(mark.id);
        tell(`${mark.name} removed. Undo brings it back.`);
    }

    async around(mark) {
        const { viewer } = this;
        try {
            const made = await viewer.around(mark);
            viewer.say(made.length ? "" : "No room for old wood around it was found. Mark some by hand.");
            if (made.length) {
                viewer.marks.propose(made);
                viewer.select(null);
            }
        } catch (error) {
            viewer.say([error.what || "That did not work.", error.next].filter(Boolean).join(" "));
        }
    }

    nameField(mark) {
        lists += 1;
        const input = el("input", {
            type: "text",
            value: mark.name,
            maxlength: "60",
            autocomplete: "off",
            "data-key": "name",
            list: `names-${lists}`,
            enterkeyhint: "done",
        });
        const told = el("p", { class: "strong", role: "status" });
        input.addEventListener("change", () => {
            this.wait();
            const why = this.viewer.marks.rename(mark.id, input.value);
            told.textContent = why;
            if (why) input.value = this.viewer.marks.find(mark.id)?.name || "";
        });
        input.addEventListener("keydown", (event) => event.key === "Enter" && input.blur());
        const free = this.viewer.names(mark.role).filter((name) => !this.viewer.marks.named(name));
        return [
            field(`Name of this ${ROLE_WORDS[mark.role] || "mark"}`, input),
            el(
                "datalist",
                { id: `names-${lists}` },
                free.map((name) => el("option", { value: cleanName(name) })),
            ),
            told,
        ];
    }

    more(mark) {
        const { viewer } = this;
        const kind =
            mark.role === "patch"
                ? choices("How it sits in the piece", `kind-${mark.id}`, KINDS, mark.kind, (value) =>
                      viewer.marks.change(mark.id, { kind: value }),
                  )
                : null;
        const details = el(
            "details",
            { class: "more" },
            el("summary", { "data-key": "more" }, "More about this mark"),
            this.roleField(mark),
            kind,
            mark.role === "patch" ? this.beside(mark) : null,
            this.corners(mark),
        );
        details.open = this.open;
        return details;
    }

    roleField(mark) {
        const roles = [...new Set([...this.viewer.roles.map((kind) => kind.role), mark.role])];
        const select = el(
            "select",
            { "data-key": "role", on: { change: () => this.viewer.marks.change(mark.id, { role: select.value }) } },
            roles.map((role) => el("option", { value: role }, ROLE_WORDS[role] || role)),
        );
        select.value = mark.role;
        return roles.length > 1 ? field("What it is", select) : null;
    }

    // None ticked means all of them.
    beside(mark) {
        const { marks } = this.viewer;
        const names = marks
            .of("target")
            .filter((target) => !target.proposed)
            .map((target) => target.name);
        if (names.length < 2) return null;
        const made = ticks(
            "Which old wood it must match",
            `beside-${mark.id}`,
            names.map((name) => [name, name]),
            mark.beside.length ? mark.beside : names,
        );
        made.querySelectorAll("input").forEach((input) => {
            input.dataset.key = `beside ${input.value}`;
        });
        made.addEventListener("change", () => {
            const chosen = ticked(made);
            marks.change(mark.id, { beside: chosen.length === names.length ? [] : chosen });
        });
        return made;
    }

    // ---- Corners by keys and by single taps ----------------------------------------------------

    corners(mark) {
        const { viewer } = this;
        const place = ([x, y]) => `${Math.round(x)}, ${Math.round(y)}`;
        const one = (words, corner) =>
            el(
                "button",
                {
                    type: "button",
                    class: "press quiet",
                    "data-key": `corner ${corner}`,
                    "aria-pressed": String(viewer.corner === corner),
                    on: {
                        click: () => viewer.choose(corner),
                        keydown: (event) => viewer.nudgeKey(event, corner) && event.preventDefault(),
                    },
                },
                corner === null ? null : el("span", { class: "only-heard" }, "Corner "),
                words,
            );
        const move = (words, dx, dy) =>
            this.press(words, `move ${words}`, () => viewer.nudge(viewer.corner, dx, dy), "quiet");
        const insert = () => {
            const { polygon } = mark,
                at = viewer.corner ?? 0,
                to = (at + 1) % polygon.length;
            const half = polygon[at].map((value, axis) => (value + polygon[to][axis]) / 2);
            viewer.marks.edit(() => viewer.marks.insertCorner(mark.id, at + 1, half));
            viewer.choose(at + 1);
        };
        return el(
            "fieldset",
            { class: "corners" },
            el("legend", {}, "Corners, in pixels. Arrow keys move the one chosen, with Shift by 10."),
            el(
                "div",
                { class: "row" },
                one("Whole mark", null),
                mark.polygon.map((p, i) => one(`${i + 1}: ${place(p)}`, i)),
            ),
            el(
                "div",
                { class: "row", role: "group", "aria-label": "Move it by a pixel" },
                move("Left", -1, 0),
                move("Up", 0, -1),
                move("Down", 0, 1),
                move("Right", 1, 0),
                this.press("New corner behind it", "insert", insert, "quiet"),
            ),
        );
    }

    // ---- The list ------------------------------------------------------------------------------

    listed() {
        const { viewer } = this;
        const { marks } = viewer;
        if (!marks.list.length) return [el("h2", {}, "Marks"), el("p", { class: "none" }, "Nothing is marked yet.")];
        const row = (mark) =>
            el(
                "li",
                {},
                el(
                    "button",
                    {
                        type: "button",
                        class: "press list-mark",
                        "data-key": `list ${mark.id}`,
                        "aria-pressed": String(mark.id === viewer.selected),
                        on: { click: () => this.fromList(mark) },
                    },
                    el("span", { class: `sample ${mark.proposed ? "proposed" : mark.role}`, "aria-hidden": "true" }),
                    el(
                        "span",
                        {},
                        el("span", { class: "strong" }, mark.name),
                        el("span", { class: "small" }, marks.told(mark)),
                    ),
                ),
            );
        return [el("h2", {}, "Marks"), el("ul", { class: "plain" }, marks.list.map(row))];
    }

    // From the list the focus goes to what can be done with it.
    fromList(mark) {
        const { viewer } = this;
        viewer.select(mark.id === viewer.selected ? null : mark.id, { reveal: true });
        if (viewer.selected && !viewer.readOnly) {
            this.focus("done");
            this.root.scrollIntoView({ block: "nearest" });
        }
    }
}
