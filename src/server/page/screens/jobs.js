// jobs.js: which job? The ones there are, newest first, and a new one.

import { getKept, post } from "../api.js";
import { button, el, field, go } from "../dom.js";
import { form, missing, textInput } from "../forms.js";
import { asItStood, jobAddress, listed, timeWords } from "../work.js";

const MANY = 3; // jobs that push the form for another one off a phone's screen

function jobCard(job) {
    const repairs = job.repairs.length ? listed(job.repairs) : "no repair marked yet";
    return el(
        "li",
        {},
        el(
            "a",
            { class: "card", href: jobAddress(job.name) },
            el("span", { class: "card-name" }, job.title || job.name),
            el("span", {}, repairs),
            el(
                "span",
                { class: "soft" },
                `${job.photos === 1 ? "1 photo" : `${job.photos} photos`}, last touched ${timeWords(job.last_at)}`,
            ),
            job.trouble ? el("span", { class: "strong" }, job.trouble) : null,
        ),
    );
}

function startForm(page, jobs) {
    const title = textInput("title", { maxlength: 120 });
    const from = el(
        "select",
        { name: "from" },
        el("option", { value: "" }, "nothing: start afresh"),
        jobs.map((job) => el("option", { value: job.name }, job.title || job.name)),
    );
    const send = async () => {
        if (!title.value.trim()) return missing(title, "Give it a name, so that you find it again.");
        try {
            const made = await post("jobs", { title: title.value.trim(), ...(from.value ? { from: from.value } : {}) });
            if (!page.signal.aborted) location.hash = jobAddress(made.job.name, "new");
            return true;
        } catch (error) {
            page.trouble(error);
            return false;
        }
    };
    return form(
        "start",
        [
            field("What is it?", title, "The piece, as you call it: walnut gramophone cabinet"),
            jobs.length
                ? field(
                      "Take jars and settings from",
                      from,
                      "Its jars, coats to come, recoat time and dyes come along.",
                  )
                : null,
        ],
        "Start this job",
        send,
    );
}

export default async function show(page) {
    page.title("Jobs");
    const { jobs, keptAt } = await getKept("jobs", page.signal);
    if (keptAt) asItStood(page, keptAt);
    const start = startForm(page, jobs);
    page.root.append(
        el(
            "div",
            { class: "two" },
            el(
                "section",
                {},
                jobs.length > MANY
                    ? el(
                          "div",
                          { class: "row narrow" },
                          button("Start another job", () => start.querySelector("input").focus()),
                      )
                    : null,
                el("h2", { class: "first" }, "Take up a job"),
                jobs.length
                    ? el("ul", { class: "cards" }, jobs.map(jobCard))
                    : el(
                          "p",
                          { class: "none" },
                          "No job yet. Start one: give the piece a name, then photograph it with a grey card in the picture.",
                      ),
            ),
            el("section", {}, el("h2", { class: "first" }, "Start a job"), start),
        ),
        el(
            "nav",
            { class: "row feet", "aria-label": "Beside the jobs" },
            go("Shelf of dyes", "#/shelf"),
            go("How to photograph", "#/help"),
        ),
    );
}
