// forms.js: a form whose words survive a lost link, a reload and the way back, until they are logged.

import { el, field } from "./dom.js";
import * as store from "./store.js";

const inputsOf = (form) => [...form.querySelectorAll("input, select, textarea")].filter((i) => i.name || i.id);

function nameOf(input) {
    return ["radio", "checkbox"].includes(input.type) ? `${input.name}=${input.value}` : input.name || input.id;
}

async function restore(form, key) {
    const kept = await store.get("drafts", key).catch(() => null);
    if (!kept) return;
    for (const input of inputsOf(form)) {
        if (!(nameOf(input) in kept)) continue;
        if (["radio", "checkbox"].includes(input.type)) input.checked = kept[nameOf(input)];
        else input.value = kept[nameOf(input)];
        input.dispatchEvent(new Event("restored"));
    }
}

function keep(form, key) {
    const values = Object.fromEntries(
        inputsOf(form).map((i) => [nameOf(i), ["radio", "checkbox"].includes(i.type) ? i.checked : i.value]),
    );
    return store.put("drafts", key, values).catch(() => {});
}

// `send` logs what is in the form; the draft goes once it returns true.
export function form(key, children, words, send) {
    const made = el(
        "form",
        { class: "form", novalidate: true },
        children,
        el("div", { class: "row" }, el("button", { class: "press main", type: "submit" }, words)),
    );
    made.addEventListener("input", () => keep(made, key));
    made.addEventListener("submit", async (event) => {
        event.preventDefault();
        const press = made.querySelector("[type=submit]");
        if (press.getAttribute("aria-disabled") === "true") return;
        press.setAttribute("aria-disabled", "true");
        try {
            if (await send(made)) await store.drop("drafts", key).catch(() => {});
        } finally {
            press.removeAttribute("aria-disabled");
        }
    });
    restore(made, key);
    return made;
}

// Says beside an input what is missing in it, and puts the focus there. Returns false, for `send` to return.
export function missing(input, words) {
    const id = `${input.id}-wrong`;
    document.getElementById(id)?.remove();
    input.setAttribute("aria-invalid", "true");
    input.setAttribute("aria-describedby", [input.getAttribute("aria-describedby"), id].filter(Boolean).join(" "));
    input.before(el("p", { class: "wrong", id }, words));
    input.focus();
    input.addEventListener(
        "input",
        () => {
            document.getElementById(id)?.remove();
            input.removeAttribute("aria-invalid");
        },
        { once: true },
    );
    return false;
}

export function textInput(name, properties = {}) {
    return el("input", { type: "text", name, autocomplete: "off", maxlength: 200, ...properties });
}

export function numberInput(name, properties = {}) {
    return el("input", { type: "text", inputmode: "decimal", name, autocomplete: "off", maxlength: 12, ...properties });
}

// A number as people type it ("1,5" too), or NaN.
export function numberIn(input) {
    const words = input.value.trim().replace(",", ".");
    return /^\d+(\.\d+)?$/.test(words) ? Number(words) : NaN;
}

const STRENGTHS = [
    ["1", "full strength"],
    ["0.5", "half strength"],
    ["0.25", "a quarter strength"],
    ["0.125", "an eighth strength"],
];

// One or two dyes with their strengths. Its `liquid()` gives [{dye, strength}].
export function liquidFields(dyes) {
    const one = (n, must) => {
        const dye = el(
            "select",
            { name: `dye ${n}` },
            must ? null : el("option", { value: "" }, "none"),
            dyes.map((d) => el("option", { value: d }, d)),
        );
        const strength = el(
            "select",
            { name: `strength ${n}` },
            STRENGTHS.map(([value, words]) => el("option", { value }, words)),
        );
        strength.value = "0.25";
        return {
            dye,
            strength,
            box: [
                field(n === 1 ? "Dye" : "Second dye", dye),
                field(n === 1 ? "How strong" : "How strong, the second", strength),
            ],
        };
    };
    const both = [one(1, true), one(2, false)];
    return {
        box: both.map((b) => b.box),
        liquid: () =>
            both.filter((b) => b.dye.value).map((b) => ({ dye: b.dye.value, strength: Number(b.strength.value) })),
    };
}
