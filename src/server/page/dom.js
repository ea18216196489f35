// dom.js: elements out of plain text. Nothing that came from outside is ever read as HTML: text goes in as text.

// el("p", { class: "key" }, "Lay 1 pass") makes <p class="key">Lay 1 pass</p>. Properties: class, style (an object), data (an
// object), on (an object of listeners); null, undefined and false leave one out; all else is set as an attribute.
// Children: text, numbers, elements, lists of them; null, undefined and false are left out.
export function el(tag, properties, ...children) {
    const element = document.createElement(tag);
    for (const [name, value] of Object.entries(properties || {})) {
        if (value === null || value === undefined || value === false) continue;
        if (name === "class") element.className = value;
        else if (name === "style") Object.assign(element.style, value);
        else if (name === "data") Object.assign(element.dataset, value);
        else if (name === "on")
            for (const [event, listener] of Object.entries(value)) element.addEventListener(event, listener);
        else if (name === "value") element.value = value;
        else element.setAttribute(name, value === true ? "" : String(value));
    }
    element.append(
        ...children
            .flat(Infinity)
            .filter((c) => c !== null && c !== undefined && c !== false)
            .map(asNode),
    );
    return element;
}

function asNode(child) {
    return child instanceof Node ? child : document.createTextNode(String(child));
}

// Puts these children in the place of all that the element held.
export function fill(element, ...children) {
    element.replaceChildren(
        ...children
            .flat(Infinity)
            .filter((c) => c !== null && c !== undefined && c !== false)
            .map(asNode),
    );
    return element;
}

// A button with words on it. kind: "main" for the one thing to do here, "quiet" for what is seldom wanted, else neither.
// While its listener runs (it may be async) the button is off, so that a second tap does nothing.
export function button(words, press, kind = "", properties = {}) {
    const made = el("button", { type: "button", class: `press ${kind}`, ...properties }, words);
    made.addEventListener("click", async (event) => {
        if (made.getAttribute("aria-disabled") === "true") return;
        made.setAttribute("aria-disabled", "true");
        try {
            await press(event);
        } finally {
            made.removeAttribute("aria-disabled");
        }
    });
    return made;
}

// A button that asks once more before it acts, in its own place: what cannot be taken back easily.
export function askingButton(words, label, question, yesWords, act) {
    const box = el("div", { class: "row" });
    const first = button(
        words,
        () => {
            fill(box, el("p", { class: "strong" }, question), yes, no);
            yes.focus();
        },
        "quiet",
        { "aria-label": label },
    );
    const yes = button(yesWords, act);
    const no = button("Leave it", () => {
        fill(box, first);
        first.focus();
    });
    box.append(first);
    return box;
}

// A link that looks like a button: it goes to another address, a button does something.
export function go(words, address, kind = "", properties = {}) {
    return el("a", { class: `press ${kind}`, href: address, ...properties }, words);
}

let fields = 0;

// A label above its input, a hint between them.
export function field(label, input, hint = "") {
    fields += 1;
    input.id = input.id || `field-${fields}`;
    const told = hint ? el("span", { class: "hint", id: `${input.id}-hint` }, hint) : null;
    if (told) input.setAttribute("aria-describedby", told.id);
    return el("div", { class: "field" }, el("label", { for: input.id }, label), told, input);
}

// Choices of which one holds: [[value, words], ...].
export function choices(legend, name, list, chosen, change = () => {}) {
    return el(
        "fieldset",
        { class: "choices" },
        el("legend", {}, legend),
        list.map(([value, words]) => {
            const input = el("input", { type: "radio", name, value, on: { change: () => change(value) } });
            input.checked = value === chosen;
            return el("label", { class: "choice" }, input, el("span", {}, words));
        }),
    );
}

// Choices of which several may hold. chosen: a list of values.
export function ticks(legend, name, list, chosen = []) {
    return el(
        "fieldset",
        { class: "choices" },
        el("legend", {}, legend),
        list.map(([value, words]) => {
            const input = el("input", { type: "checkbox", name, value });
            input.checked = chosen.includes(value);
            return el("label", { class: "choice" }, input, el("span", {}, words));
        }),
    );
}

export function ticked(fieldset) {
    return [...fieldset.querySelectorAll("input:checked")].map((input) => input.value);
}

// Two fields that touch on neutral grey, so that nothing beside them bends the eye. Colours as "#rrggbb"; the words stand
// beside them and are all that a screen reader needs.
export function swatches(screen, name, large = false) {
    if (!screen || !screen.patch || !screen.target) return null;
    return el(
        "div",
        {
            class: large ? "swatches large" : "swatches",
            role: "img",
            "aria-label": `${name}, the repair at the left, touching the old wood at the right`,
        },
        el("span", { style: { backgroundColor: screen.patch } }),
        el("span", { style: { backgroundColor: screen.target } }),
    );
}

// SVG text as a picture: as such it runs nothing and asks for nothing.
export function svgPicture(svg, words) {
    const bytes = new TextEncoder().encode(svg);
    let binary = "";
    for (let i = 0; i < bytes.length; i += 8192) binary += String.fromCharCode(...bytes.subarray(i, i + 8192));
    return el("img", { class: "picture", src: `data:image/svg+xml;base64,${btoa(binary)}`, alt: words });
}

// What the program says of a mistake, as a sentence that stands alone.
export function sentence(words) {
    const whole = String(words || "").trim();
    if (!whole) return "";
    return whole[0].toUpperCase() + whole.slice(1) + (/[.:!?]$/.test(whole) ? "" : ".");
}

// What went wrong, first what, then what to do. Takes the focus so that a reader hears it and a thumb finds it.
export function trouble(error) {
    const box = el(
        "div",
        { class: "trouble", role: "alert", tabindex: "-1" },
        el("p", { class: "trouble-what" }, sentence(error.what) || "This did not work."),
        error.next ? el("p", {}, sentence(error.next)) : null,
    );
    setTimeout(() => box.isConnected && box.focus(), 0);
    return box;
}

const TOLD_MS = 10000;
let tellings = 0;

// Said to a screen reader only, without moving the focus. It does not stay, to be met again on another screen.
export function tell(words) {
    const told = document.getElementById("told");
    const mine = ++tellings;
    const put = (text) => {
        if (mine === tellings) told.textContent = text;
    };
    told.textContent = "";
    setTimeout(put, 50, words);
    setTimeout(put, TOLD_MS, "");
}

// A classic script of /lib/, once.
const scripts = new Map();
export function script(address) {
    if (!scripts.has(address))
        scripts.set(
            address,
            new Promise((done, failed) => {
                document.head.append(el("script", { src: address, on: { load: done, error: failed } }));
            }),
        );
    return scripts.get(address);
}
