// plan.js: the day's sheet: few jars for all repairs, in the order of laying. A jar is tapped once it was laid.

import { askKept, at } from "../api.js";
import { button, el, field, go, sentence } from "../dom.js";
import { missing, numberIn, numberInput, textInput } from "../forms.js";
import { waiting } from "../outbox.js";
import { jobAddress, listed, loadJob, logAndShow, passesWords, repairsOf, warningsBox } from "../work.js";

// What comes out of one jar, as [{passes, patches}]: repairs that take as many passes are laid together.
function portions(order, index) {
    const found = [];
    for (const step of order.filter((s) => s.of_jars === index)) {
        const same = found.find((f) => f.passes === step.passes);
        if (same) same.patches.push(step.patch);
        else found.push({ passes: step.passes, patches: [step.patch] });
    }
    return found;
}

function liquidOf(jar) {
    return jar.jar ? { jar: jar.jar } : { liquid: jar.liquid };
}

// The label on the jar, and in one tap: laid.
function portion(page, state, jar, { passes, patches }) {
    const words = `${passesWords(passes)} on ${listed(patches)}`;
    const unsent = waiting(page.names.job).some(
        (item) => item.address.endsWith("/passes") && patches.some((name) => item.body.patches.includes(name)),
    );
    if (unsent) return el("p", { class: "none" }, el("span", { class: "strong" }, words), ". Laid; not sent yet.");
    return button(
        [el("span", { class: "jar-words" }, words), " ", el("span", { class: "jar-done" }, "Tap when it is laid")],
        // The next jar moves up to where this one was: the second half of a double tap must not fall on it.
        (event) =>
            event.detail > 1
                ? null
                : logAndShow(
                      page,
                      state,
                      "passes",
                      { patches, ...liquidOf(jar), passes },
                      `${words}, ${jar.jar ? `jar ${jar.jar}` : jar.words}`,
                  ),
        "jar-press",
        { "aria-label": `${words} Tap when it is laid, ${jar.name}` },
    );
}

function mixing(page, jar) {
    const use = (jar.use || []).map((line) => el("p", { class: "small" }, sentence(line)));
    if (jar.jar) return [el("p", {}, "It stands mixed: stir it."), use];
    const volume = numberInput("volume", { value: jar.mix ? String(Math.round(jar.mix.volume_ml)) : "50" });
    const mixed = async () => {
        const ml = numberIn(volume);
        if (!(ml > 0)) return missing(volume, "How many millilitres were mixed? A number, as 50.");
        return logAndShow(page, null, "jars", { liquid: jar.liquid, volume_ml: ml }, `a jar of ${jar.words}`);
    };
    return [
        use,
        el(
            "details",
            { class: "mix" },
            el("summary", { "aria-label": `How to mix it, ${jar.name}` }, "How to mix it"),
            jar.mix ? el("p", {}, jar.mix.words) : null,
            field("Mixed, in millilitres", volume),
            button("It is mixed: give it a number", mixed),
        ),
    ];
}

function otherwise(page, state, jar, patches) {
    const boxes = patches.map((name) => {
        const input = el("input", { type: "checkbox", value: name });
        return { input, box: el("label", { class: "choice" }, input, el("span", {}, name)) };
    });
    const passes = numberInput("passes", { value: "1" });
    const note = textInput("note");
    const send = async () => {
        const chosen = boxes.filter((b) => b.input.checked).map((b) => b.input.value);
        if (!chosen.length) return missing(boxes[0].input, "On which repair? Tick one at least.");
        if (!Number.isInteger(numberIn(passes)) || numberIn(passes) < 1)
            return missing(passes, "How many passes? A whole number, as 1.");
        return logAndShow(
            page,
            state,
            "passes",
            {
                patches: chosen,
                ...liquidOf(jar),
                passes: numberIn(passes),
                ...(note.value.trim() ? { note: note.value.trim() } : {}),
            },
            `${passesWords(numberIn(passes))} on ${listed(chosen)}`,
        );
    };
    for (const [i, b] of boxes.entries()) b.input.id = `otherwise-${jar.name.replace(/\W+/g, "-")}-${i}`;
    return el(
        "details",
        {},
        el("summary", { "aria-label": `Laid otherwise, ${jar.name}` }, "Laid otherwise"),
        el(
            "fieldset",
            { class: "choices" },
            el("legend", {}, "On"),
            boxes.map((b) => b.box),
        ),
        field("Passes", passes),
        field("Note", note),
        button("Log it", send),
    );
}

function jarCard(page, state, advice, index) {
    const jar = advice.jars[index];
    const parts = portions(advice.order, index);
    if (!parts.length) return null;
    const guess = advice.patches.some((p) => p.next_guess && parts.some((f) => f.patches.includes(p.patch)));
    return el(
        "section",
        { class: "jar" },
        el("h2", {}, jar.name, jar.jar ? "" : " (not mixed yet)"),
        el("p", { class: "key" }, jar.words),
        guess ? el("p", { class: "strong" }, "A guess: try it on scrap first.") : null,
        mixing(page, jar),
        parts.map((p) => portion(page, state, jar, p)),
        otherwise(
            page,
            state,
            jar,
            repairsOf(state).map((p) => p.name),
        ),
    );
}

function aloneCard(page, advised) {
    const more = [el("span", {}, "More on it"), el("span", { class: "only-heard" }, `: ${advised.patch}`)];
    return el(
        "div",
        { class: "sheet" },
        el("h3", {}, advised.patch),
        el("p", {}, advised.says?.why || advised.why),
        advised.other_ways ? el("p", {}, advised.other_ways) : null,
        el("div", { class: "row" }, go(more, jobAddress(page.names.job, "plan", advised.patch))),
    );
}

// Repairs that wait for the same thing, the next photo, stand together.
function toPhotograph(page, names) {
    return el(
        "div",
        { class: "sheet" },
        el("h3", {}, listed(names)),
        el("p", {}, "Laid since the last photo: let it dry, photograph it, ask again."),
        el("div", { class: "row" }, go("Photograph", jobAddress(page.names.job, "new"))),
    );
}

function leftAlone(page, state, advice) {
    const alone = advice.patches.filter((p) => !p.next);
    const isLaid = ({ patch }) => repairsOf(state).some((part) => part.name === patch && part.since_photo > 0);
    const laid = alone.filter(isLaid).map((p) => p.patch);
    return alone.length
        ? el(
              "section",
              {},
              el("h2", {}, "Lay nothing on"),
              laid.length ? toPhotograph(page, laid) : null,
              alone.filter((p) => !isLaid(p)).map((p) => aloneCard(page, p)),
          )
        : null;
}

function orderList(page, advice) {
    return advice.order.length
        ? el(
              "section",
              {},
              el("h2", {}, "In this order"),
              el(
                  "ol",
                  { class: "order" },
                  advice.order.map((step) =>
                      el(
                          "li",
                          {},
                          el("a", { href: jobAddress(page.names.job, "plan", step.patch) }, step.patch),
                          `: ${passesWords(step.passes)} of ${advice.jars[step.of_jars].name}`,
                      ),
                  ),
              ),
              el("p", {}, "Then let all of it dry, photograph it, ask again."),
          )
        : null;
}

export function cautions(advice) {
    const all = advice.cautions_in_full || [];
    return all.length
        ? el(
              "section",
              { class: "cautions" },
              el("h2", {}, "Before you spray"),
              el(
                  "ul",
                  {},
                  all.map((c) => el("li", {}, c)),
              ),
          )
        : null;
}

export default async function show(page) {
    const state = await loadJob(page);
    page.title("What to lay today", state.title);
    if (!repairsOf(state).some((p) => p.gap)) {
        page.root.append(
            el(
                "p",
                { class: "none" },
                "Nothing is read yet. Photograph the repair with the grey card beside it, then ask again.",
            ),
            go("Photograph", jobAddress(page.names.job, "new"), "main"),
        );
        return;
    }
    const advice = await askKept(at("jobs", page.names.job, "advice"), {}, page.signal);
    const jars = advice.jars.map((_, i) => jarCard(page, state, advice, i)).filter(Boolean);
    const head = advice.says?.head || advice.patches[0]?.says?.head || "Lay nothing now.";
    page.root.append(
        ...[
            el("p", { class: "key" }, head),
            el(
                "div",
                { class: "two" },
                el("div", {}, jars.length ? jars : leftAlone(page, state, advice)),
                el(
                    "div",
                    {},
                    orderList(page, advice),
                    jars.length ? leftAlone(page, state, advice) : null,
                    cautions(advice),
                    jars.length && advice.says?.amounts?.length
                        ? el("p", { class: "small soft" }, advice.says.amounts.join(" "))
                        : null,
                ),
            ),
            warningsBox(advice.warnings),
        ].filter(Boolean),
    );
}
