// reading.js: what the program read, in its own words and colours: the swatches touching, the verdict, the gap with its range.

import { el, fill, sentence, svgPicture, swatches } from "../dom.js";
import { verdictBlock } from "../work.js";

// What to do on this page, where the program's own words speak of the command line.
const NEXT = {
    "card-missing":
        'Press "Grey card" and drag across the card. No card in the photo: lay one beside the repair and photograph again.',
    "mark-outside": "Drag that corner back into the photo.",
    "mark-small": "Make it larger, or go nearer with the camera.",
    "mark-crossing": "Drag its corners so that the outline runs once around.",
    "mark-overlap": "Drag one of the two away from the other.",
    "mark-twice": "Give one of them another name.",
    "mark-beside": 'Open "More about this mark" and tick the old wood that it must match.',
    "mark-many": "Remove some of the marks.",
};

export const nextOf = (error) => NEXT[error.code] || error.next || "";

// What is still to be marked before anything can be read; "" where nothing is missing.
export function missing(marks, proposed = 0) {
    const has = (...roles) => marks.some((mark) => roles.includes(mark.role));
    const need = [];
    if (!has("card", "neutral", "chart")) need.push("the grey card");
    if (!has("patch")) need.push("the repair");
    if (!has("target")) need.push("old wood beside it");
    if (!need.length) return "";
    if (need.length === 1 && proposed && !has("target"))
        return "Take the old wood that is proposed, or mark some: then it is read.";
    const list = need.length > 1 ? `${need.slice(0, -1).join(", ")} and ${need.at(-1)}` : need[0];
    return `Mark ${list}: then it is read.`;
}

// Of several each is kept short, so that they can be looked over: what it is made of then opens with a press.
function oneRepair(item, several) {
    const gap = item.gap?.text || "";
    const directions = item.directions || [];
    const opens = several ? "In which way, and the gap, drawn" : "The gap, drawn, and more";
    const made = [
        item.spread_text ? el("p", {}, `${item.spread_text[0].toUpperCase()}${item.spread_text.slice(1)}.`) : null,
        directions.length
            ? el(
                  "ul",
                  {},
                  directions.map((words) => el("li", {}, words)),
              )
            : null,
    ];
    return el(
        "section",
        { class: "sheet repair" },
        el("h2", {}, item.patch),
        swatches(item.screen, item.patch, !several),
        el("p", { class: "sides", "aria-hidden": "true" }, el("span", {}, "repair"), el("span", {}, "old wood")),
        verdictBlock(item.verdict, item.says),
        item.why ? el("p", {}, item.why) : null,
        gap ? el("p", { class: "gap" }, `Gap to the old wood ${gap}`) : null,
        item.shots ? el("p", {}, sentence(item.shots)) : null,
        several ? null : made,
        item.rulers || several
            ? el(
                  "details",
                  {},
                  el("summary", { "aria-label": `${opens}, ${item.patch}` }, opens),
                  several ? made : null,
                  item.rulers
                      ? svgPicture(item.rulers, `${item.patch}: ${[`gap ${gap}`, ...directions].join("; ")}`)
                      : null,
                  (item.further || []).map((line) => el("p", { class: "small" }, sentence(line))),
              )
            : null,
    );
}

// The verdict's first sentence and the gap.
function inBrief(item) {
    const verdict = item.says.split(/[.:] /)[0].replace(/\.$/, "");
    const gap = item.gap?.text ? ` Gap ${item.gap.text}.` : "";
    return el("p", {}, el("span", { class: "strong" }, `${item.patch}: ${verdict}.`), gap);
}

export class Reading {
    constructor() {
        this.body = el("div", {});
        this.only = el("p", { class: "strong", hidden: true }); // what the reading still hangs on
        this.verdict = el("p", { class: "only-heard", role: "status", "aria-live": "polite" });
        this.root = el("section", { class: "reading", "aria-label": "Reading" }, this.verdict, this.only, this.body);
        this.brief = el("div", { class: "brief", "aria-hidden": "true", "data-only": "" }); // right below the photo, where the page is narrow
    }

    show(shown) {
        this.only.hidden = !this.only.textContent;
        const open = [...this.body.querySelectorAll("details")].map((details) => details.open);
        fill(this.body, shown.map((item) => oneRepair(item, shown.length > 1)));
        fill(this.brief, shown.map(inBrief));
        this.body.querySelectorAll("details").forEach((details, i) => {
            details.open = Boolean(open[i]);
        });
        this.hear(shown.map((item) => `${item.patch}: ${item.says}`).join(" "));
    }

    // "If the marks lie right:", above what is read; "" where nothing is in question.
    hangsOn(words) {
        this.only.textContent = words;
        this.only.hidden = !words || !this.body.querySelector(".repair");
        this.brief.dataset.only = this.only.hidden ? "" : words;
    }

    hear(words) {
        if (this.verdict.textContent !== words) this.verdict.textContent = words;
    }

    // Nothing to read yet.
    wait(words) {
        this.only.hidden = true;
        fill(this.body, el("p", { class: "none" }, words));
        fill(this.brief);
        this.hear(words);
    }

    // show(name): chooses that mark; null where the refusal names none.
    refuse(error, show) {
        const what = sentence(error.subject && show ? `${error.subject}: ${error.what}` : error.what);
        fill(this.brief, el("p", {}, what));
        this.only.hidden = true;
        fill(
            this.body,
            el(
                "div",
                { class: "trouble" },
                el("p", { class: "trouble-what" }, what),
                el("p", {}, nextOf(error)),
                show
                    ? el("button", { type: "button", class: "press", on: { click: show } }, "Show it on the photo")
                    : null,
            ),
        );
        this.hear(`${error.subject ? `${error.subject}: ` : ""}${error.what}. ${nextOf(error)}`);
    }
}

// What is wrong with the photo, said above it; the first one in full, the rest behind one press. The light spoils all of a
// photo and goes first, then the file, then a repair; one spot of old wood among several matters least. `more`: further ones.
export function warningsOf(answer, more = []) {
    const words = (list) => (list || []).map((one) => (typeof one === "string" ? one : one.text || one.what || ""));
    const targets = (answer?.samples || []).filter((sample) => sample.role === "target").map((sample) => sample.name);
    const least = (line) => targets.some((name) => line.startsWith(`${name}: `));
    const all = [
        ...words(answer?.light?.warnings),
        ...words(answer?.photo?.warnings),
        ...words(answer?.warnings),
        ...words(more),
    ];
    const each = [...new Set(all.filter(Boolean))];
    return [...each.filter((line) => !least(line)), ...each.filter(least)];
}

// As high with warnings as without, so that the photo below never moves under a finger.
export class Warnings {
    constructor() {
        this.words = el("span", {});
        this.list = el("ul", {});
        this.root = el("details", { class: "wrong-photo" }, el("summary", {}, this.words), this.list);
        this.show([], "Not read yet.");
    }

    show(list, none = "Nothing is seen to be wrong with the photo.") {
        const more = list.length > 1 ? `${list.length} things to look at: ` : list.length ? "Look: " : "";
        this.words.textContent = list.length ? more + list[0] : none;
        this.root.classList.toggle("none-wrong", !list.length);
        if (!list.length) this.root.open = false;
        fill(
            this.list,
            list.map((words) => el("li", {}, words)),
        );
    }
}
