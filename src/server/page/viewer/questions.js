// questions.js: what only a person can say of a photo: whether that is the card, whether carried marks lie right, in which state
// the parts were.

import { button, el, field, fill, tell } from "../dom.js";
import { box } from "./shapes.js";

const STATES = [
    ["", "Not said"],
    ["bare", "Bare"],
    ["sealed", "Sealed"],
    ["finished", "Finished"],
    ["rubbed_out", "Rubbed out"],
    ["not_dry", "Not dry yet"],
    ["damp", "Damp on purpose"],
];
const ALL_PARTS = ""; // stands for all of them in what was said
const REFERENCES = ["card", "neutral", "chart"];

export class Questions {
    // bench: { answer, saved, viewer, save() }
    constructor(bench) {
        this.bench = bench;
        this.root = el("div", { class: "questions" });
    }

    // One thing at a time: while a mark is drawn or chosen, its tools stand in the place of the questions.
    aside() {
        const { viewer } = this.bench;
        this.root.hidden = Boolean(viewer.drawing || viewer.selected);
    }

    asksCard() {
        const { answer, saved, viewer } = this.bench;
        return (
            answer?.placed?.card === "proposed" &&
            !saved.answered.card &&
            viewer.marks.list.some((mark) => REFERENCES.includes(mark.role) && mark.found)
        );
    }

    asksWood() {
        const { answer, saved, viewer } = this.bench;
        return (
            answer?.placed?.wood === "proposed" &&
            !saved.answered.wood &&
            viewer.marks.list.some((mark) => !REFERENCES.includes(mark.role) && mark.found)
        );
    }

    draw() {
        const { answer } = this.bench;
        const card = this.asksCard(),
            wood = this.asksWood();
        const told = !card && !wood ? this.how(answer?.placed) : "";
        this.bench.reading.hangsOn(wood ? "If the marks lie right:" : card ? "If that is the grey card:" : "");
        fill(
            this.root,
            wood ? this.wood(answer.placed.why) : null,
            card ? this.card(wood ? "" : answer.placed.why) : null,
            told ? el("p", { class: "soft" }, told) : null,
        );
    }

    hasReference() {
        return this.bench.viewer.marks.list.some((mark) => REFERENCES.includes(mark.role));
    }

    // Where the marks come from, when nothing is asked.
    how(placed) {
        const { answered } = this.bench.saved;
        if (!placed || answered.wood || answered.card) return "";
        if (placed.card === "none" && this.hasReference()) return "";
        if (placed.wood === "as_it_lay")
            return "Nothing moved since the last photo of this side: the marks lie as they lay.";
        if (placed.wood === "carried") return "The marks were carried from the last photo of this side.";
        return placed.card === "none" || placed.wood === "none" ? placed.why : "";
    }

    done(what, words) {
        this.bench.saved.answered[what] = true;
        this.bench.save();
        const within = this.root.contains(document.activeElement);
        this.draw();
        // The button that was pressed is gone: what is asked next, or what can be marked, has the focus.
        const next = this.root.querySelector("button") || this.bench.viewer.tools.root.querySelector("button");
        if (within) next?.focus({ preventScroll: true });
        tell(words);
    }

    wood(why) {
        return el(
            "div",
            { class: "question", data: { question: "wood" } },
            el(
                "p",
                { class: "strong", tabindex: "-1" },
                "The marks were carried from the last photo: look whether they lie right.",
            ),
            el("p", {}, why),
            el(
                "div",
                { class: "row" },
                button("They lie right", () => this.done("wood", "Taken as they lie."), "main"),
                button("Take them away", () => this.takeAway()),
            ),
        );
    }

    takeAway() {
        const { viewer } = this.bench;
        this.bench.saved.answered.wood = true;
        viewer.marks.edit(() => {
            viewer.marks.list = viewer.marks.list.filter((mark) => REFERENCES.includes(mark.role) || !mark.found);
        });
        this.draw();
    }

    card(why) {
        return el(
            "div",
            { class: "question", data: { question: "card" } },
            el(
                "p",
                { class: "strong", tabindex: "-1" },
                "Is this the grey card? It stands in the photo with a broken line.",
            ),
            why ? el("p", {}, why) : null,
            el(
                "div",
                { class: "row" },
                button("Yes, it is", () => this.done("card", "Taken as the grey card."), "main"),
                button("Show it", () => this.showCard()),
                button("No, I draw it", () => this.noCard()),
            ),
        );
    }

    found() {
        return this.bench.viewer.marks.list.filter((mark) => REFERENCES.includes(mark.role) && mark.found);
    }

    showCard() {
        const { viewer } = this.bench;
        const [card] = this.found();
        viewer.stage.reveal(box(card.polygon));
        viewer.blame(card.name);
        viewer.stage.root.scrollIntoView({ block: "nearest" });
    }

    noCard() {
        const { viewer } = this.bench;
        const gone = this.found();
        this.bench.saved.answered.card = true;
        viewer.marks.edit(() => {
            viewer.marks.list = viewer.marks.list.filter((mark) => !gone.includes(mark));
        });
        this.draw();
        viewer.startDrawing(viewer.roles.find((kind) => kind.role === "card"));
        viewer.stage.root.scrollIntoView({ block: "nearest" });
    }

    // A question that must be answered before the photo is kept is shown; true: there is one.
    open() {
        const [first] = this.root.querySelectorAll(".question p");
        if (!first) return false;
        this.bench.viewer.select(null);
        first.scrollIntoView({ block: "center" });
        first.focus();
        tell(`First: ${first.textContent}`);
        return true;
    }

    // The state of parts: of each where the program asks, else of all together, out of the way. May be skipped.
    states() {
        const { answer } = this.bench;
        if (!answer?.ask)
            return el(
                "details",
                {},
                el("summary", {}, "State of the surface"),
                this.stateField("What is marked is", ALL_PARTS),
            );
        return el(
            "div",
            { class: "sheet" },
            el(
                "p",
                { class: "strong" },
                "What is the surface like now? It may be left out, but a photo of another state is no comparison.",
            ),
            answer.ask.parts.map((part) => this.stateField(part, part, answer.ask.last)),
        );
    }

    stateField(label, part, last = "") {
        const { saved } = this.bench;
        const before = STATES.find(([value]) => value && value === last);
        const rest = STATES.filter((one) => one !== before).map(([value, words]) => el("option", { value }, words));
        if (before) rest.splice(1, 0, el("option", { value: last }, `As before: ${before[1].toLowerCase()}`));
        const select = el(
            "select",
            {
                on: {
                    change: () => {
                        saved.states[part] = select.value;
                        this.bench.save();
                    },
                },
            },
            rest,
        );
        select.value = saved.states[part] || "";
        return field(label, select);
    }

    // As they are logged: [{ part, state }].
    said() {
        const { saved, viewer } = this.bench;
        const wood = viewer.marks.list.filter((mark) => ["patch", "target"].includes(mark.role) && !mark.proposed);
        return wood
            .map((mark) => ({ part: mark.name, state: saved.states[mark.name] || saved.states[ALL_PARTS] }))
            .filter((one) => one.state);
    }

    // Where coats or passes may not have had their time yet.
    dry() {
        const { saved, state } = this.bench;
        if (!(state?.parts || []).some((part) => part.wait)) return null;
        const input = el("input", {
            type: "checkbox",
            on: {
                change: () => {
                    saved.allDry = input.checked;
                    this.bench.save();
                },
            },
        });
        input.checked = Boolean(saved.allDry);
        return el("label", { class: "choice" }, input, el("span", {}, "What was laid last is dry already"));
    }
}
