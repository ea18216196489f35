// settings.js: what holds for the whole job, as fields and as what is sent of them.

import { choices, el, field, ticked } from "./dom.js";
import { missing, numberIn, numberInput } from "./forms.js";
import { repairsOf } from "./work.js";

const OVER = [
    ["all", "Repairs and old wood alike"],
    ["repairs", "The repairs only"],
    ["not_known", "Not known yet"],
];

const given = (value) => (value === null || value === undefined ? "" : String(value));

// An area read off the photo by its card is told, and not put in as if a person had said it.
function areaField(part, areas) {
    const known = (areas || []).find((a) => a.part === part.name);
    const byCard = known?.from_card
        ? `By the card in the photo about ${Math.round(known.cm2)}. Empty leaves it so.`
        : "";
    const input = numberInput(`area ${part.name}`, { value: byCard ? "" : given(known?.cm2) });
    return { part: part.name, input, box: field(`${part.name}, in square centimetres`, input, byCard) };
}

export function settingFields(state) {
    const now = state.settings || {};
    return {
        coats: numberInput("coats", { value: given(now.coats) }),
        over: choices("They go over", "over", OVER, now.over || "not_known"),
        recoat: numberInput("recoat", { value: given(now.recoat_minutes) }),
        width: numberInput("card width", { value: given(now.card_mm?.[0]) }),
        height: numberInput("card height", { value: given(now.card_mm?.[1]) }),
        perPass: numberInput("ml_m2", { value: given(now.ml_m2) }),
        areas: repairsOf(state).map((part) => areaField(part, now.areas)),
    };
}

export function settingRows({ coats, over, recoat, width, height, perPass, areas }) {
    return [
        el("h2", {}, "Coats to come"),
        field("Clear coats that still come", coats),
        over,
        el("h2", {}, "Drying"),
        field("Each pass dries for, in minutes", recoat, "The recoat time on the product's sheet."),
        el("h2", {}, "The grey card"),
        field("Its width, in mm", width, "With both sides areas are read off photos."),
        field("Its height, in mm", height),
        el("h2", {}, "Liquid"),
        field("A pass takes on a square metre, in ml", perPass, "Empty: a usual figure is taken, and said."),
        areas.length ? el("h2", {}, "Areas") : null,
        areas.map((area) => area.box),
    ];
}

// What is sent, or false where something in it cannot be meant; that is said beside it then.
export function settingBody({ coats, over, recoat, width, height, perPass, areas }) {
    const body = { over: ticked(over)[0] };
    const numbers = [
        [coats, "coats"],
        [recoat, "recoat_minutes"],
        [perPass, "ml_m2"],
    ];
    for (const [input, name] of numbers) {
        if (!input.value.trim()) continue;
        if (Number.isNaN(numberIn(input))) return missing(input, "A number, or nothing.");
        body[name] = numberIn(input);
    }
    if (numberIn(width) > 0 && numberIn(height) > 0) body.card_mm = [numberIn(width), numberIn(height)];
    else if (width.value.trim() || height.value.trim())
        return missing(width.value.trim() ? height : width, "Both sides in millimetres, or neither.");
    const wrong = areas.find(({ input }) => input.value.trim() && !(numberIn(input) > 0));
    if (wrong) return missing(wrong.input, "A number, or nothing.");
    const said = areas.filter(({ input }) => input.value.trim());
    if (said.length) body.areas = said.map(({ part, input }) => ({ part, cm2: numberIn(input) }));
    return body;
}
