// facts.js: what is said about a photo: which side of the piece it shows, under which lamp, from where.

import { choices, el, field } from "../dom.js";

const VIEWS = ["front", "left side", "right side", "back", "top", "lid", "inside"];
const FROM = [
    ["", "Not said"],
    ["front", "From the front"],
    ["left", "From the left"],
    ["right", "From the right"],
];
let lists = 0;

function suggested(label, hint, value, list, change) {
    lists += 1;
    const names = el(
        "datalist",
        { id: `facts-${lists}` },
        [...new Set(list)].filter(Boolean).map((name) => el("option", { value: name })),
    );
    const input = el("input", {
        type: "text",
        value,
        maxlength: "60",
        autocomplete: "off",
        list: names.id,
        on: { change: () => change(input.value.trim()) },
    });
    return el("div", {}, field(label, input, hint), names);
}

// facts: { view, lamp, from }, changed in place; changed() after each. job: as it stands, for names used before.
export function factsFields(facts, job, changed) {
    const set = (name) => (value) => {
        facts[name] = value;
        changed();
    };
    return [
        suggested(
            "Which side of the piece",
            "Photos of one side are compared with each other.",
            facts.view,
            [...(job?.views || []), ...VIEWS],
            set("view"),
        ),
        suggested(
            "Under which lamp",
            "May be left empty. Name it where you work under more than one.",
            facts.lamp,
            (job?.photos || []).map((photo) => photo.lamp),
            set("lamp"),
        ),
        choices("Seen from", `from-${lists}`, FROM, facts.from, set("from")),
    ];
}

// As in the job's last photo, or a start.
export function usualFacts(job) {
    const last = (job?.photos || []).filter((photo) => !photo.measured).at(-1);
    return { view: last?.view || job?.views?.[0] || "front", lamp: last?.lamp || "", from: last?.from || "" };
}

export const factWords = (facts) =>
    [facts.view, facts.lamp && `under ${facts.lamp}`, facts.from && `from the ${facts.from}`]
        .filter(Boolean)
        .join(", ");
